package barcode_test

import (
	"errors"
	"fmt"

	"stowkeeper/inventory/barcode"
)

func ExampleParse() {
	today := barcode.Date{Year: 2026, Month: 11, Day: 25}
	pack, err := barcode.Parse("]d20109521234543213172706001"+"0LOT-7A\x1d21SN0042", today)
	fmt.Println(pack.ProductCode, pack.BatchNo, pack.Serial, err)
	fmt.Println("printed", pack.EndPrinted, "usable through", pack.UsableThrough)
	// Output:
	// 09521234543213 LOT-7A SN0042 <nil>
	// printed 2027-06 usable through 2027-06-30
}

func ExampleParse_refused() {
	today := barcode.Date{Year: 2026, Month: 11, Day: 25}
	_, err := barcode.Parse("010952123454321317271301", today)
	var refused *barcode.Error
	if errors.As(err, &refused) {
		fmt.Println(refused.Position, refused.AI, refused.Reason)
	}
	// Output: 20 17 no such day
}

func ExampleParse_swallowed() {
	today := barcode.Date{Year: 2026, Month: 11, Day: 25}
	pack, _ := barcode.Parse("0109521234543213"+"10LOT717270630", today)
	fmt.Println(pack.BatchNo)
	for _, w := range pack.Warnings {
		fmt.Println(w.Kind, w.Suspect)
	}
	// Output:
	// LOT717270630
	// swallowed 17270630
}
