// Package photo reads the barcode on a photo of a pack: Data Matrix, Code 128 and QR, with the separators that a GS1
// symbol holds. It is for phones whose browser reads no barcodes itself. It knows no HTTP, and looks at no more of a
// picture than Limits allow.
package photo

import (
	"bytes"
	"context"
	"errors"
	"image"
	_ "image/jpeg" // what phones take
	_ "image/png"  // what scanners and screens give
	"io"
)

// Limits of a picture. A picture's size is looked at before it is unpacked,
// since a small file can claim to be a very large picture.
const (
	MaxBytes  = 12 << 20   // of the file
	MaxPixels = 50_000_000 // width times height
	minSide   = 20         // no symbol is smaller
)

// What can be wrong with a picture; the texts are for people.
var (
	ErrTooLarge = errors.New("the picture is too large: take it with fewer than 50 megapixels, in a file of at most 12 MB")
	ErrFormat   = errors.New("this is no JPEG or PNG picture")
	ErrNotFound = errors.New("no code could be read on the picture: go closer until the code fills half of it, hold the " +
		"phone still and straight above it, with light from the side")
)

// Reading is a symbol as it was read. Text begins with the symbology identifier of ISO/IEC 15424, as scanners send
// it; a QR Code's has none, since the reader does not tell which of its kinds it was.
type Reading struct {
	Text   string
	Symbol string // Data Matrix, Code 128 or QR Code
}

// Decode reads the most easily found symbol of a picture. It stops looking
// when ctx ends, and then says that it found none.
func Decode(ctx context.Context, from io.Reader) (Reading, error) {
	data, err := io.ReadAll(io.LimitReader(from, MaxBytes+1))
	if err != nil {
		return Reading{}, err
	}
	if len(data) > MaxBytes {
		return Reading{}, ErrTooLarge
	}
	size, _, err := image.DecodeConfig(bytes.NewReader(data))
	switch {
	case err != nil:
		return Reading{}, ErrFormat
	case size.Width > MaxPixels || size.Height > MaxPixels || size.Width*size.Height > MaxPixels:
		return Reading{}, ErrTooLarge
	case size.Width < minSide || size.Height < minSide:
		return Reading{}, ErrNotFound
	}
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return Reading{}, ErrFormat
	}
	return Find(ctx, img)
}

// Find reads the most easily found symbol of a picture in memory.
func Find(ctx context.Context, img image.Image) (Reading, error) {
	for l := range looks(img) {
		if ctx.Err() != nil {
			break
		}
		if r, ok := l.read(); ok {
			return r, nil
		}
	}
	return Reading{}, ErrNotFound
}
