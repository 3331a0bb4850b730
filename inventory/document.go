package inventory

import "stowkeeper/inventory/message"

// DocumentKind is what sort of paper a document is.
type DocumentKind string

// The kinds of document.
const (
	DocTransfer        DocumentKind = "transfer"         // of the sender's
	DocTransferReceipt DocumentKind = "transfer_receipt" // what a station received of one, and of the receiver's
	DocCount           DocumentKind = "count"            // of a place
	DocOrder           DocumentKind = "order"            // to a supplier
)

// Document is a paper that people fill in step by step and that is kept: a transfer, what was received of one, a count,
// an order. What is written on it is its body, in the form of the package that it belongs to; it is a fact of its
// station's chain with every step.
type Document struct {
	ID       int64        `json:"id"`
	Kind     DocumentKind `json:"kind"`
	Of       int64        `json:"of" doc:"Id of the transfer that was received"`
	Station  string       `json:"station" doc:"Whose chain it belongs to"`
	Other    string       `json:"other_station" doc:"The other station of a transfer"`
	Place    string       `json:"place"`
	Status   string       `json:"status"`
	OpenedAt Instant      `json:"opened_at"`
	OpenedBy string       `json:"opened_by"`
	EndedAt  Instant      `json:"ended_at" doc:"When it ended; empty while it is open"`
	EndedBy  string       `json:"ended_by" doc:"By whom"`
	Body     string       `json:"body" doc:"Its lines and steps, as JSON"`
}

// Named is what people call it.
func (d Document) Named() message.Message {
	switch d.Kind {
	case DocCount:
		return message.M("Count {1}", d.Place)
	case DocOrder:
		return message.M("Order {1}", d.ID)
	}
	return message.M("Transfer {1}", d.ID)
}

// Shelf is a store, a quarantine or a carrier of an open station, which is counted now and then.
type Shelf struct {
	Place, Name, Station string
	Batches              int     // that lie there
	Often                bool    // one of them of a controlled item, or of a critical line of a kit list's newest version
	Last                 Instant // the end of its last count that was accepted
}

// DocumentFilter narrows a list of documents; empty fields do not narrow.
type DocumentFilter struct {
	Kind     DocumentKind
	Stations []string // of the chain, or the other one
	Places   []string
	Of       int64
	Open     bool
}
