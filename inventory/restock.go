package inventory

// Restock is what was put in and taken out to bring a bag back to its list.
type Restock struct {
	ID         int64         `json:"id"`
	Bag        string        `json:"bag"`
	RecordedAt Instant       `json:"recorded_at" format:"date-time"`
	HappenedAt Instant       `json:"happened_at,omitempty" format:"date-time" doc:"Missing in the oldest records"`
	By         string        `json:"by"`
	Lines      []RestockLine `json:"lines,omitempty"`
	TakeOut    []TakeOutLine `json:"take_out,omitempty"`
	SealSet    string        `json:"seal_set,omitempty"`
	Note       string        `json:"note,omitempty"`
	ListMove   *ListMove     `json:"list_move,omitempty" doc:"Once recorded: it moved the bag to a newer kit list version"`
}

// RestockLine is what was put in.
type RestockLine struct {
	LotID int64  `json:"lot_id"`
	Qty   int    `json:"qty" minimum:"1" maximum:"1000000"`
	From  string `json:"from" doc:"Place code; default: the station's store" required:"false"`
}

// TakeOutLine is what was taken out.
type TakeOutLine struct {
	LotID  int64  `json:"lot_id"`
	Qty    int    `json:"qty" minimum:"1" maximum:"1000000"`
	To     string `json:"to" doc:"Place code, or disposed"`
	Reason Reason `json:"reason" enum:"return,quarantine,disposed,to_training,lost"`
	Cause  Cause  `json:"cause,omitempty"`

	AuthorisedBy string `json:"authorised_by,omitempty" maxLength:"120" doc:"Who has a controlled item destroyed"`
}
