package web

import (
	"context"
	"strings"

	"stowkeeper/inventory"
)

// causeOptions are why a device is disposed of.
var causeOptions = []Option{
	{Value: string(inventory.CauseDamaged), Text: "damaged"},
	{Value: string(inventory.CauseExpired), Text: "past its life"},
	{Value: string(inventory.CauseTraining), Text: "worn out in training"},
	{Value: string(inventory.CauseRecalled), Text: "recalled"},
	{Value: string(inventory.CauseOther), Text: "other"},
}

// releaseDevice puts a device that has passed its inspection back.
func (s *server) releaseDevice(v *visit) error {
	return s.sendDevice(v, func(ctx context.Context, f *form) error {
		return s.svc.Stock.ReleaseDevice(ctx, v.actor, paramID(v, "lot"), f.text("to"))
	})
}

// disposeDevice ends a device's life.
func (s *server) disposeDevice(v *visit) error {
	return s.sendDevice(v, func(ctx context.Context, f *form) error {
		d, err := s.svc.Stock.Device(ctx, v.actor, paramID(v, "lot"))
		if err != nil {
			return err
		}
		if len(d.Where) == 0 {
			return inventory.Errorf(inventory.Conflict, "the device is not at your stations any more")
		}
		_, err = s.svc.Ledger.Move(ctx, v.actor, []inventory.Movement{{LotID: d.ID, Qty: 1, From: d.Where[0].Place,
			To: string(inventory.KindDisposed), Reason: inventory.ReasonDisposed, Cause: inventory.Cause(f.text("cause"))}})
		return err
	})
}

// sendDevice does what a form on a device's page asks for and shows the page
// again.
func (s *server) sendDevice(v *visit, do func(ctx context.Context, f *form) error) error {
	f := openForm(v.Request.PostForm)
	err := v.once(func(ctx context.Context, _ string) (string, error) {
		return devicePath(paramID(v, "lot")), do(ctx, f)
	})
	return f.fix(v, err, func(path string) string {
		if path == "release_to" {
			return "to"
		}
		return strings.TrimPrefix(path, "movements[0].")
	}, s.deviceForm)
}
