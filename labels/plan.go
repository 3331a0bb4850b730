package labels

import (
	"errors"

	"stowkeeper/inventory/message"
)

// Options are what the printer and the part-used sheet ask for.
type Options struct {
	Start   int     // first position to print on, from 1, counted along the rows; 0 means 1
	OffsetX float64 // moves everything right, mm, -5 to 5
	OffsetY float64 // moves everything down, mm, -5 to 5
	Outline bool    // draws the edge of each label: for plain paper and for the screen
}

func (o Options) check(s Sheet) error {
	switch {
	case o.Start < 0 || o.Start > s.PerPage():
		return &FieldError{Field: "start", Fix: message.M("enter {1} to {2}", 1, s.PerPage())}
	case !(o.OffsetX >= -5 && o.OffsetX <= 5):
		return &FieldError{Field: "offset_x", Fix: message.M("enter -{1} to {1} mm", 5)}
	case !(o.OffsetY >= -5 && o.OffsetY <= 5):
		return &FieldError{Field: "offset_y", Fix: message.M("enter -{1} to {1} mm", 5)}
	}
	return nil
}

// first is the position of the first label, from 0.
func (o Options) first() int { return max(o.Start, 1) - 1 }

// Report tells how labels come out on a sheet.
type Report struct {
	Sheet      Sheet
	Pages      int
	Fits       []Fit   // one a label, in order
	ModuleMM   float64 // the smallest module among them, mm
	DistanceCM int     // the shortest reading distance among them, cm
	Warnings   []Warning
}

// Plan fits labels on a sheet without printing. It fails with a *FieldError when an option or a field is wrong and
// with a *RefusedError when a label cannot be read at that size; the error names the first such label.
func Plan(s Sheet, labels []Label, opt Options) (Report, error) {
	_, report, err := plan(s, labels, opt)
	return report, err
}

func plan(s Sheet, labels []Label, opt Options) ([]drawing, Report, error) {
	if err := opt.check(s); err != nil {
		return nil, Report{}, err
	}
	if len(labels) == 0 {
		return nil, Report{}, &FieldError{Field: "labels", Fix: message.M("choose at least one")}
	}
	report := Report{Sheet: s, Pages: (opt.first()+len(labels)-1)/s.PerPage() + 1}
	drawings := make([]drawing, len(labels))
	content := s.content()
	for i, l := range labels {
		c, err := compose(l, content)
		if err != nil {
			return nil, Report{}, refusal(err, i+1, l, s)
		}
		drawings[i] = c.drawing
		report.add(i+1, c)
	}
	return drawings, report, nil
}

func (r *Report) add(label int, c *composer) {
	f := c.drawing.symbol.Fit
	if len(r.Fits) == 0 || f.ModuleMM < r.ModuleMM {
		r.ModuleMM = f.ModuleMM
	}
	if len(r.Fits) == 0 || f.DistanceCM < r.DistanceCM {
		r.DistanceCM = f.DistanceCM
	}
	r.Fits = append(r.Fits, f)
	for _, w := range c.warnings {
		w.Label = label
		r.Warnings = append(r.Warnings, w)
	}
}

// refusal adds to err which label it is about and what comes nearest.
func refusal(err error, label int, l Label, s Sheet) error {
	var field *FieldError
	var refused *RefusedError
	switch {
	case errors.As(err, &field):
		return &FieldError{Label: label, Field: field.Field, Fix: field.Fix}
	case errors.As(err, &refused):
		out := &RefusedError{Label: label, Reason: refused.Reason, Nearest: message.M("no sheet can; {1}", refused.Nearest)}
		if best, ok := nearest(l, s); ok {
			out.Sheet, out.Nearest = best.Name, message.M("use sheet {1} ({2} × {3} mm)", best.Name, tenth(best.Label.W),
				tenth(best.Label.H))
		}
		return out
	}
	return err
}

// nearest is the sheet that can print l and is nearest to s: on the same paper
// if there is one, then with the smallest label.
func nearest(l Label, s Sheet) (best Sheet, ok bool) {
	for _, other := range sheets {
		if other.Name == s.Name {
			continue
		}
		if _, err := compose(l, other.content()); err != nil {
			continue
		}
		if !ok || nearer(other, best, s) {
			best, ok = other, true
		}
	}
	return best, ok
}

func nearer(a, b, s Sheet) bool {
	if (a.Paper == s.Paper) != (b.Paper == s.Paper) {
		return a.Paper == s.Paper
	}
	return a.Label.W*a.Label.H < b.Label.W*b.Label.H
}
