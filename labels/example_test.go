package labels_test

import (
	"fmt"
	"io"
	"strings"

	"stowkeeper/labels"
)

func ExampleWritePDF() {
	sheet, err := labels.SheetByName("a4-3x7")
	if err != nil {
		fmt.Println(err)
		return
	}
	bags := []labels.Label{
		labels.Bag{
			Code: "KD7-442", Name: "Response bag, North 2", KitList: "Response bag", Edition: "2026-1",
			Address: labels.Address("https://kit.example.org", "KD7-442"),
		},
	}
	report, err := labels.WritePDF(io.Discard, sheet, bags, labels.Options{Start: 4, OffsetX: 0.5})
	if err != nil {
		fmt.Println(err)
		return
	}
	fit := report.Fits[0]
	fmt.Printf("version %d, level %s, %s\n", fit.Version, fit.Level, fit.Mode)
	fmt.Printf("modules of %.2f mm, to be read from up to %d cm\n", report.ModuleMM, report.DistanceCM)
	// Output:
	// version 3, level H, alphanumeric
	// modules of 0.92 mm, to be read from up to 27 cm
}

func ExamplePlan_refused() {
	sheet, _ := labels.SheetByName("letter-3x10")
	long := "https://stock.example.org/services/county/district/station/equipment/first-response/kits"
	_, err := labels.Plan(sheet, []labels.Label{
		labels.Bag{Code: "KD7-442", Address: labels.Address(long, "KD7-442")},
	}, labels.Options{})
	fmt.Println(strings.ReplaceAll(err.Error(), "; ", ";\n"))
	// Output:
	// label 1: QR code too dense: 0.48 mm, at least 0.50 mm needed;
	// use sheet letter-2x5 (101.6 × 50.8 mm)
}
