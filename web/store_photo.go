package web

import (
	"context"
	"errors"
	"net/http"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/barcode/photo"
)

// photoPath is the route that takes photos, the only one whose form may be larger than maxForm.
const photoPath = "/deliveries/:delivery/photo"

// maxPhotoForm is the most that a form with a photo may send, in bytes.
const maxPhotoForm = photo.MaxBytes + 1<<20

// photoTime is how long a photo is looked at.
const photoTime = 8 * time.Second

// photoTurns lets so many photos be looked at at a time: each takes a core and the memory of a whole picture.
var photoTurns = make(chan struct{}, 2)

// photographPack takes a photo of a pack's code. The form is read only here, once it is known who sends it.
func (s *server) photographPack(v *visit, _ *form) error {
	text, err := s.readPhoto(v)
	if err != nil {
		return err
	}
	return s.takeScan(v, text)
}

// readPhoto reads the code on the photo. Where the phone's browser found a code
// that is not found here, what it read is taken, unless it may lack a separator.
func (s *server) readPhoto(v *visit) (string, error) {
	if err := v.Request.ParseMultipartForm(1 << 20); err != nil {
		var tooBig *http.MaxBytesError
		if errors.As(err, &tooBig) {
			return "", inventory.InvalidField("photo", "{1}", photo.ErrTooLarge.Error())
		}
		return "", inventory.InvalidField("photo", "choose a photo")
	}
	defer func() { _ = v.Request.MultipartForm.RemoveAll() }()
	file, _, err := v.Request.FormFile("photo")
	if err != nil {
		return "", inventory.InvalidField("photo", "choose a photo")
	}
	defer func() { _ = file.Close() }()
	ctx, cancel := context.WithTimeout(v.ctx(), photoTime)
	defer cancel()
	select {
	case photoTurns <- struct{}{}:
		defer func() { <-photoTurns }()
	case <-ctx.Done():
		return "", inventory.Refuse(inventory.TooMany, "Busy. Try again in a minute.")
	}
	got, err := photo.Decode(ctx, file)
	if found := v.Request.PostForm.Get("text"); err != nil && found != "" {
		f, failed := s.svc.Ledger.ReadBarcode(v.ctx(), v.actor, found)
		if failed == nil && !f.MayLackSeparator() {
			return found, nil
		}
	}
	switch {
	case errors.Is(err, photo.ErrNotFound), errors.Is(err, photo.ErrFormat), errors.Is(err, photo.ErrTooLarge):
		return "", inventory.InvalidField("photo", "{1}", err.Error())
	}
	return got.Text, err
}
