package notice

import (
	"context"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/ledger"
)

// Release lets a batch that a notice holds count again, by the facts of this day: a later correction or merge of it, or
// a notice that is widened to it, ends that. Refuses: Forbidden without keep_stock; NotFound for notice and batch;
// Invalid for the reason; Conflict where the notice does not hold the batch, and for who wrote a correction or merge of
// it. Locks the item.
func (s *Service) Release(ctx context.Context, by inventory.Actor, notice, batch int64,
	reason string) (inventory.Notice, error) {
	return s.step(ctx, by, notice, "", func(w inventory.Writer, n inventory.Notice) (inventory.NoticeStep, error) {
		b, err := w.Batch(batch)
		if err != nil {
			return inventory.NoticeStep{}, err
		}
		corrections, err := w.BatchCorrections(inventory.BatchFilter{IDs: []int64{batch}})
		if err != nil {
			return inventory.NoticeStep{}, err
		}
		return inventory.NoticeStep{Kind: inventory.StepReleased, BatchID: batch, Bore: len(b.Formerly), Text: reason},
			n.MayRelease(by, b, corrections, reason)
	})
}

// Widen lets a notice mean more than when it was issued, as makers extend a recall; one that was closed is open again,
// and stations are to answer once more. Refuses: Forbidden without keep_stock; NotFound; Invalid by field; Conflict
// where it was cancelled. Locks the item.
func (s *Service) Widen(ctx context.Context, by inventory.Actor, notice int64, to inventory.NoticeScope,
	reason string) (inventory.Notice, error) {
	return s.step(ctx, by, notice, "", func(w inventory.Writer, n inventory.Notice) (inventory.NoticeStep, error) {
		step := inventory.NoticeStep{Kind: inventory.StepWidened, Text: reason, NoticeScope: to}
		if err := step.CheckStep(); err != nil || n.Status != inventory.NoticeClosed {
			return step, err
		}
		n.Status, n.EndedAt, n.EndedBy, n.EndReason = inventory.NoticeOpen, 0, "", ""
		return step, w.SetNoticeOutcome(n)
	})
}

// Answer keeps what a station says that it holds of what a notice means, 0 for none; it may answer again. Refuses:
// Forbidden without keep_stock at the station; NotFound for notice and station; Invalid by field; Conflict where the
// notice was cancelled. Locks the item.
func (s *Service) Answer(ctx context.Context, by inventory.Actor, notice int64, station string, held int,
	note string) (inventory.Notice, error) {
	station = inventory.NormalCode(station)
	return s.step(ctx, by, notice, station, func(w inventory.Writer, _ inventory.Notice) (inventory.NoticeStep, error) {
		step := inventory.NoticeStep{Kind: inventory.StepAnswered, Station: station, Held: held, Text: note}
		_, err := w.Station(station)
		return step, inventory.MergeErrors(inventory.AsField(err, "station", "not found"), step.CheckStep())
	})
}

// Reply keeps with a notice what the supplier said. Refuses: Forbidden without keep_stock; NotFound; Invalid by field;
// Conflict where the notice was cancelled. Locks the item.
func (s *Service) Reply(ctx context.Context, by inventory.Actor, notice int64, text string) (inventory.Notice, error) {
	return s.step(ctx, by, notice, "", func(inventory.Writer, inventory.Notice) (inventory.NoticeStep, error) {
		step := inventory.NoticeStep{Kind: inventory.StepReplied, Text: text}
		return step, step.CheckStep()
	})
}

// step adds what was done about a notice, and brings batches in line with it.
func (s *Service) step(ctx context.Context, by inventory.Actor, id int64, station string,
	make func(inventory.Writer, inventory.Notice) (inventory.NoticeStep, error)) (inventory.Notice, error) {
	return inventory.Write(ctx, s.store, func(w inventory.Writer) (inventory.Notice, error) {
		if err := by.Must(inventory.ActKeepStock, station); err != nil {
			return inventory.Notice{}, err
		}
		n, err := w.Notice(id)
		if err != nil {
			return n, err
		}
		if err := w.LockItem(n.Item); err != nil {
			return n, err
		}
		if n, err = w.Notice(id); err != nil { // again, now that others wait
			return n, err
		}
		if !n.Holds() {
			return n, inventory.Refuse(inventory.Conflict, "the notice was cancelled")
		}
		step, err := make(w, n)
		if err != nil {
			return n, err
		}
		step.RecordedAt, step.By = s.now(), by.Name
		n.Steps = append(slices.Clone(n.Steps), step)
		if err := w.SetNoticeSteps(n); err != nil {
			return n, err
		}
		return n, ledger.ApplyNotices(w, n.Item)
	})
}
