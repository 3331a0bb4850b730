package inventory

import "context"

// Train records a class's applications of a training device.
func (s *Service) Train(ctx context.Context, by Actor, lot int64, in TrainingUse) (TrainingUse, error) {
	return write(ctx, s, func(w Writer) (TrainingUse, error) {
		return newPoster(w, by, s.Now()).train(lot, in)
	})
}

func (p *poster) train(lot int64, in TrainingUse) (TrainingUse, error) {
	st, place, err := p.deviceFor(lot, ActKeepStock)
	if err != nil {
		return in, err
	}
	if place.Purpose != ForTraining {
		return in, Errorf(Conflict, "only training devices are trained with; issue stock goes to training first, and there is no way back")
	}
	if place.Kind == KindQuarantine {
		return in, Errorf(Conflict, "the device is set apart: inspect it first, and let it out when it passed")
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
	in.BatchID, in.LotID, in.RecordedAt, in.By = st.Lot.Batch.ID, st.Lot.ID, p.now, p.by.Name
	if in, err = p.w.AddTrainingUse(in); err != nil {
		return in, err
	}
	return in, renewRecord(p.w, st.Lot.Batch)
}
