package web

import (
	"cmp"
	"context"
	"errors"
	"slices"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
	"stowkeeper/inventory/notice"
)

// NoticeSteps is what was and may be done about a notice, besides pulling.
type NoticeSteps struct {
	Batches          []BatchRow
	Stations         []AnswerRow
	Replies, Widened []StepRow

	Reply, BatchNos, Serials, Why Field
}

// BatchRow is a batch that a notice means.
type BatchRow struct {
	ID       int64
	Label    message.Message
	Formerly string
	Released *StepRow
	Reason   Field           // for its release
	Not      message.Message // why this person may not release it
}

// AnswerRow is what a station says that it holds.
type AnswerRow struct {
	notice.StationAnswer
	Name string
	Said *StepRow
	Held Field // for the answer of one's own station
	Mine bool
}

// StepRow is a step in words.
type StepRow struct {
	When When
	Text message.Message
	By   string
}

func (p *noticePage) addSteps(v *visit, f *form) {
	at := v.ownStation()
	row := func(s inventory.NoticeStep, text message.Message) StepRow {
		return StepRow{whenAt(s.RecordedAt, at), text, s.By}
	}
	for _, s := range p.NoticeStory.Steps {
		switch s.Kind {
		case inventory.StepReplied:
			p.Steps.Replies = append(p.Steps.Replies, row(s, message.Plain(s.Text)))
		case inventory.StepWidened:
			for _, text := range append(noticeMeans(s.NoticeScope), message.Plain(s.Text)) {
				if text != nil {
					p.Steps.Widened = append(p.Steps.Widened, row(s, text))
				}
			}
		}
	}
	for _, b := range p.Batches {
		p.Steps.Batches = append(p.Steps.Batches, p.batchRow(v, f, b, row))
	}
	called := v.called()
	for _, a := range p.NoticeStory.Stations {
		x := AnswerRow{StationAnswer: a, Name: called.station(a.Station), Mine: v.actor.At(a.Station)}
		if a.Answer != nil {
			text := message.M("none held")
			if n := a.Answer.Held; n > 0 {
				text = message.M("{1} held", n)
			}
			said := row(*a.Answer, text)
			x.Said = &said
		}
		if x.Mine && p.MayKeep {
			x.Held = f.numberField("held", message.M("Units held at {1}", x.Name))
			x.Held.Again = a.Station
		}
		p.Steps.Stations = append(p.Steps.Stations, x)
	}
	p.Steps.Reply = f.area("reply", message.M("Supplier's reply")).Need()
	p.Steps.BatchNos, p.Steps.Serials = f.area("batch_nos", message.M("Batch numbers, one per line")),
		f.area("serials", message.M("Serial numbers, one per line"))
	p.Steps.Why = f.field("why", message.M("Extended by"))
}

func (p *noticePage) batchRow(v *visit, f *form, b notice.MeantBatch,
	row func(inventory.NoticeStep, message.Message) StepRow) BatchRow {
	out := BatchRow{ID: b.ID, Label: lotLabel(b.BatchNo, b.Serial), Formerly: formerLabel(b.Batch)}
	if b.Released != nil {
		released := row(*b.Released, message.Plain(b.Released.Text))
		out.Released = &released
		return out
	}
	if p.MayKeep && !p.IsOver {
		out.Reason = f.field("release", message.M("Reason to release {1}", out.Label)).Need()
		out.Reason.Again = formatID(b.ID)
		wrote := slices.DeleteFunc(slices.Clone(p.Corrections),
			func(c inventory.BatchCorrection) bool { return c.BatchID != b.ID })
		var no *inventory.Error
		if errors.As(p.Notice.MayRelease(v.actor, b.Batch, wrote, "asked"), &no) {
			out.Not = no.Message
		}
	}
	return out
}

// noticeStep takes a form that does something about a notice, and shows it again.
func (s *server) noticeStep(do func(context.Context, *visit, *form, int64) error) func(*visit, *form) error {
	return func(v *visit, f *form) error {
		id := paramID(v, "notice")
		f.names = func(path string) string {
			return cmp.Or(map[string]string{"reason": "release", "text": "reply"}[path], path)
		}
		return notFound(v.once(func(ctx context.Context, _ string) (string, error) {
			if err := do(ctx, v, f, id); err != nil {
				return "", err
			}
			return noticePath(id), f.err()
		}))
	}
}

func (s *server) releaseBatch(ctx context.Context, v *visit, f *form, id int64) error {
	_, err := s.svc.Notice.Release(ctx, v.actor, id, f.id("batch"), f.text("release"))
	return err
}

func (s *server) widenNotice(ctx context.Context, v *visit, f *form, id int64) error {
	more := inventory.NoticeScope{BatchNos: f.lines("batch_nos"), Serials: f.lines("serials")}
	_, err := s.svc.Notice.Widen(ctx, v.actor, id, more, f.text("why"))
	return err
}

func (s *server) answerNotice(ctx context.Context, v *visit, f *form, id int64) error {
	_, err := s.svc.Notice.Answer(ctx, v.actor, id, f.text("station"), f.number("held"), "")
	return err
}

func (s *server) keepReply(ctx context.Context, v *visit, f *form, id int64) error {
	_, err := s.svc.Notice.Reply(ctx, v.actor, id, f.text("reply"))
	return err
}
