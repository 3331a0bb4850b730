package web

import (
	"context"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/message"
)

var causeOptions = []Option{
	{Value: string(inventory.CauseDamaged), Text: message.M("damaged")},
	{Value: string(inventory.CauseExpired), Text: message.M("expired")},
	{Value: string(inventory.CauseTraining), Text: message.M("worn out in training")},
	{Value: string(inventory.CauseRecalled), Text: message.M("recalled")},
	{Value: string(inventory.CauseOther), Text: message.M("other")},
}

func (s *server) releaseDevice(v *visit, f *form) error {
	return s.sendDevice(v, f, func(ctx context.Context) error {
		return s.svc.Stock.ReleaseDevice(ctx, v.actor, paramID(v, "lot"), f.text("to"))
	})
}

func (s *server) disposeDevice(v *visit, f *form) error {
	return s.sendOut(v, f, inventory.Movement{To: string(inventory.KindDisposed), Reason: inventory.ReasonDisposed,
		Cause: inventory.Cause(f.text("cause"))})
}

func (s *server) returnDevice(v *visit, f *form) error {
	return s.sendOut(v, f, inventory.Movement{To: string(inventory.KindSupplier), Reason: inventory.ReasonToSupplier,
		Reference: f.text("reference")})
}

// sendOut sends a device out of the service from where it is.
func (s *server) sendOut(v *visit, f *form, m inventory.Movement) error {
	return s.sendDevice(v, f, func(ctx context.Context) error {
		d, err := s.svc.Stock.Device(ctx, v.actor, paramID(v, "lot"))
		if err != nil {
			return err
		}
		if len(d.Where) == 0 {
			return inventory.Refuse(inventory.Conflict, "not found at your stations")
		}
		m.LotID, m.Qty, m.From = d.ID, 1, d.Where[0].Place
		_, err = s.svc.Ledger.Move(ctx, v.actor, []inventory.Movement{m})
		return err
	})
}

// sendDevice does what a form on a device's page asks for and shows the page again.
func (s *server) sendDevice(v *visit, f *form, do func(ctx context.Context) error) error {
	f.names = func(path string) string {
		if path == "release_to" {
			return "to"
		}
		return strings.TrimPrefix(path, "movements[0].")
	}
	return v.once(func(ctx context.Context, _ string) (string, error) {
		return devicePath(paramID(v, "lot")), do(ctx)
	})
}
