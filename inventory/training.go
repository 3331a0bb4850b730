package inventory

import "context"

// Train records a class's applications of a training device.
func (s *Service) Train(ctx context.Context, by Actor, lot int64, in TrainingUse) (TrainingUse, error) {
	return write(ctx, s, func(w Writer) (TrainingUse, error) {
		p := newPoster(w, by, s.Now())
		st, place, err := p.deviceFor(lot, ActKeepStock)
		if err != nil {
			return in, err
		}
		if place.Purpose != ForTraining {
			return in, Errorf(Conflict, "only training devices are trained with; issue stock goes to training first, and there is no way back")
		}
		var ps problems
		ps.when(in.Cycles < 1 || in.Cycles > 100000, "cycles", "give 1 to 100000 applications")
		checkText(&ps, "class", in.Class, false, MaxName)
		if err := ps.err(); err != nil {
			return in, err
		}
		if in.At, err = happened(in.At, p.now, "at"); err != nil {
			return in, err
		}
		in.BatchID, in.LotID, in.RecordedAt, in.By = st.Lot.Batch.ID, st.Lot.ID, p.now, by.Name
		if in, err = w.AddTrainingUse(in); err != nil {
			return in, err
		}
		return in, renewRecord(w, st.Lot.Batch)
	})
}
