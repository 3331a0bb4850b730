package store

import "stowkeeper/inventory"

// outcome is what becomes of a check or a use: columns that both tables have.
type outcome struct {
	Status         string
	WaitsBecause   string
	Decision       string
	DecisionReason string
	DecidedBy      string
	DecidedAt      instant
}

func outcomeOf(status inventory.RecordStatus, because string, d *inventory.Decision) outcome {
	o := outcome{Status: string(status), WaitsBecause: because}
	if d != nil {
		o.Decision, o.DecisionReason, o.DecidedBy, o.DecidedAt = string(d.Decision), d.Reason, d.By, instant(d.At)
	}
	return o
}

func (o outcome) decision() *inventory.Decision {
	if o.Decision == "" {
		return nil
	}
	return &inventory.Decision{
		Decision: inventory.DecisionKind(o.Decision), Reason: o.DecisionReason, By: o.DecidedBy, At: inventory.Instant(o.DecidedAt),
	}
}

// setOutcome stores what became of one check or use.
func (w writer) setOutcome(thing, table string, id int64, o outcome) error {
	return w.step("set outcome of a "+thing, "", func() error {
		n, err := w.exec("UPDATE "+table+` SET status = ?, waits_because = ?, decision = ?, decision_reason = ?, decided_by = ?,
    decided_at = ? WHERE id = ?`, o.Status, o.WaitsBecause, o.Decision, o.DecisionReason, o.DecidedBy, o.DecidedAt, id)
		if err == nil && n == 0 {
			return notFound(thing)
		}
		return err
	})
}
