package labels

import (
	"bytes"
	"image"
	_ "image/png"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/stretchr/testify/require"
)

// read decodes the one symbol of a picture with gozxing.
func read(t *testing.T, img image.Image) string {
	t.Helper()
	bmp, err := gozxing.NewBinaryBitmapFromImage(img)
	require.NoError(t, err)
	result, err := qrcode.NewQRCodeReader().Decode(bmp, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	require.NoError(t, err)
	return result.GetText()
}

func TestBagPNGDecodes(t *testing.T) {
	b := Bag{Code: "KD7-442", Name: "Trauma backpack", KitList: "Response bag", Edition: "2026-1",
		Address: Address("https://kit.example.org", "KD7-442")}
	var buf bytes.Buffer
	_, err := WritePNG(&buf, b, Size{63.5, 38.1}, 203)
	require.NoError(t, err)
	img, _, err := image.Decode(&buf)
	require.NoError(t, err)
	require.Equal(t, "HTTPS://KIT.EXAMPLE.ORG/B/KD7-442", read(t, img))
}
