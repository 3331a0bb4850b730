package labels

import "fmt"

// everyKind is one label of each kind, invented; n makes the addresses of one
// call differ from those of another.
func everyKind(n int) []Label {
	at := func(kind string) string {
		return Address("https://kit.example.org", fmt.Sprintf("%s%03d", kind, n))
	}
	return []Label{
		Bag{Code: fmt.Sprintf("KD7-%03d", n), Name: "Response bag, Riverside, North 2", KitList: "Response bag",
			Edition: "2026-1", Address: at("KD7-")},
		Card{
			Code: fmt.Sprintf("KD7-%03d", n), Name: "Response bag, North 2", KitList: "Response bag", Edition: "2026-1",
			Contents: []CardLine{{"Bleeding", "Tourniquet, windlass", 2}, {"Bleeding", "Permanent marker", 0},
				{"Airway", "Airway, size 7", 1}},
			EarliestDate: "30 Jun 2027", LastFullCheck: "2 Nov 2026", Seal: "004512", Address: at("CARD-"),
		},
		Shelf{Code: "TQ-WIND-A", Name: "Tourniquet, windlass, adult", Place: "RIV-STORE, rack 2", Unit: "each",
			Address: at("SHELF-")},
		Device{Serial: "8812-0044", Name: "Suction unit, portable", Code: "SUC-BAT", UsableThrough: "31 May 2031",
			Address: at("DEV-")},
		Device{Serial: "8812-0045", Name: "Suction unit, portable", Code: "SUC-BAT", Training: true, Address: at("TRAIN-")},
	}
}
