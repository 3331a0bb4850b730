package inventory

// BagLogKind is what people change of a bag and the log of it keeps.
type BagLogKind string

// BagLogEntry is one line of a bag's log: what people changed of it.
type BagLogEntry struct {
	ID         int64      `json:"id"`
	Bag        string     `json:"bag"`
	RecordedAt Instant    `json:"recorded_at" format:"date-time"`
	By         string     `json:"by"`
	Kind       BagLogKind `json:"kind" enum:"vehicle,station,inside,module,kit_list,out_of_service,return_to_service"`
	Old        string     `json:"old,omitempty" doc:"The value before it: vehicle, station, bag or kit list with version"`
	New        string     `json:"new,omitempty" doc:"The value after it"`
	Reason     string     `json:"reason,omitempty" doc:"Why it is out of service, or what returned it"`
}
