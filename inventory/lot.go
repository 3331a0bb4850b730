package inventory

import "stowkeeper/inventory/message"

// Batch is what the maker printed on units that are alike, or on one device. Notices and traces follow the batch.
type Batch struct {
	ID         int64   `json:"batch_id"`
	Item       string  `json:"item" doc:"Item code"`
	Product    int64   `json:"product,omitempty" doc:"Product id, where known"`
	BatchNo    string  `json:"batch_no,omitempty" doc:"Batch number as printed"`
	Serial     string  `json:"serial,omitempty" doc:"Serial number as printed, for a device"`
	MadeOn     Day     `json:"made_on,omitempty" format:"date" doc:"Day of manufacture; of a month, its first day"`
	EndPrinted string  `json:"end_printed,omitempty" doc:"The date as printed: YYYY-MM or YYYY-MM-DD"`
	EndWording Wording `json:"end_wording,omitempty" doc:"The words printed beside the date"`
	LastUsable Day     `json:"-"` // the last usable day that the printed date means

	Formerly   []BatchFacts `json:"formerly,omitempty" doc:"What was recorded of it before it was corrected, oldest first"`
	MergedInto int64        `json:"merged_into,omitempty" doc:"The batch that this one turned out to be"`

	BatchRecord
}

// BatchRecord is what inspections, classes and notices say of a batch. Only
// use cases change it. The first three are about a device.
type BatchRecord struct {
	InspectedOn Day      `json:"inspected_on,omitempty" format:"date" doc:"Day of the last inspection that it passed"`
	Cycles      int      `json:"training_cycles,omitempty" doc:"Applications in training so far"`
	InspectBy   Day      `json:"inspect_by,omitempty" format:"date" doc:"A notice wants it inspected from this day on"`
	Withdrawn   []string `json:"withdrawn,omitempty" doc:"References of the withdrawing notices that it is under"`
}

// Clocks are what the units of one lot share besides their batch. Units whose
// clocks differ are different lots of the batch.
type Clocks struct {
	StowedOn     Day  `json:"stowed_on,omitempty" format:"date" doc:"First stowed in a bag"`
	OpenedOn     Day  `json:"opened_on,omitempty" format:"date" doc:"Opened"`
	ExposedSince Day  `json:"exposed_since,omitempty" format:"date" doc:"On a carrier since"`
	ExposedDays  int  `json:"exposed_days,omitempty" doc:"Days on carriers before that, a day once"`
	ExposedLast  Day  `json:"exposed_last,omitempty" format:"date" doc:"The last of these days"`
	Training     bool `json:"training,omitempty" doc:"Training stock, for good"`
	Unidentified bool `json:"unidentified,omitempty" doc:"No known batch or date: never counts"`
}

// Lot is a number of units of one batch that share their clocks: the row that the ledger moves. A lot never changes;
// units whose clock starts move into another lot of the same batch.
type Lot struct {
	ID int64 `json:"id"`
	Batch
	Clocks
	Parent     int64 `json:"parent,omitempty" doc:"The lot_id that its first units were split from"`
	ReceivedOn Day   `json:"received_on" format:"date" doc:"Day on which its first units were received"`
}

// Device tells whether the lot is a device: a lot of one with a serial number.
func (l Lot) Device() bool { return l.Serial != "" }

// Stock is a quantity of a lot in a place.
type Stock struct {
	Place string `json:"place"`
	Lot   Lot    `json:"lot"`
	Qty   int    `json:"qty"`
}

// ClocksAfter returns the clocks that units have after moving to a place on a day; left is the last day on which they
// still were where they came from, the day before where they left at midnight. Stowing in a bag starts the stowed
// clock and a carrier runs the exposed one, where the item has such a limit; training is for good. Units that leave
// the service keep their clocks.
func ClocksAfter(it Item, c Clocks, to Place, day, left Day) Clocks {
	if to.Outside() {
		return c
	}
	if to.Kind == KindBag && it.Life.StowedMonths > 0 && c.StowedOn == 0 {
		c.StowedOn = day
	}
	if c.ExposedSince != 0 && to.Kind != KindCarrier {
		if spent := c.DaysExposed(left); spent > c.ExposedDays {
			c.ExposedDays, c.ExposedLast = spent, left
		}
		c.ExposedSince = 0
	}
	if it.Life.ExposedDays > 0 && c.ExposedSince == 0 && to.Kind == KindCarrier {
		c.ExposedSince = day
	}
	if to.Purpose == ForTraining {
		c.Training = true
	}
	return c
}

// DaysExposed returns the days on which the lot was out on a carrier, today
// among them while it is out: each once, however often it went out and came back.
func (c Clocks) DaysExposed(today Day) int {
	if c.ExposedSince == 0 || today < c.ExposedSince {
		return c.ExposedDays
	}
	return c.ExposedDays + max(0, int(today-max(c.ExposedSince, c.ExposedLast+1))+1)
}

// UnitsOf says how many units of which lot.
func UnitsOf(qty int, item string, l Lot) message.Message {
	switch {
	case l.Serial != "":
		return message.M("{1} {1|unit|units} of {2}, serial {3}", qty, item, l.Serial)
	case l.BatchNo != "":
		return message.M("{1} {1|unit|units} of {2}, batch {3}", qty, item, l.BatchNo)
	}
	return message.M("{1} {1|unit|units} of {2}", qty, item)
}
