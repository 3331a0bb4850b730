package inventory

import "stowkeeper/inventory/message"

// DocumentKind is what sort of paper a document is.
type DocumentKind string

// The kinds of document.
const (
	DocTransfer        DocumentKind = "transfer"         // of the sender's
	DocTransferReceipt DocumentKind = "transfer_receipt" // what a station received of one, and of the receiver's
	DocCount           DocumentKind = "count"            // of a place
)

// Document is a paper that people fill in step by step and that is kept: a transfer, what was received of one, a
// count. What is written on it is its body, in the form of the package that it belongs to; it is a fact of its
// station's chain with every step.
type Document struct {
	ID       int64
	Kind     DocumentKind
	Of       int64  // the transfer that was received
	Station  string // whose chain it belongs to
	Other    string // the other station of a transfer
	Place    string // of a count
	Status   string
	OpenedAt Instant
	OpenedBy string
	EndedAt  Instant // 0 while it is open
	EndedBy  string
	Body     string // JSON
}

// Named is what people call it.
func (d Document) Named() message.Message {
	if d.Kind == DocCount {
		return message.M("Count {1}", d.Place)
	}
	return message.M("Transfer {1}", d.ID)
}

// DocumentFilter narrows a list of documents; empty fields do not narrow.
type DocumentFilter struct {
	Kind     DocumentKind
	Stations []string // of the chain, or the other one
	Places   []string
	Of       int64
	Open     bool
}
