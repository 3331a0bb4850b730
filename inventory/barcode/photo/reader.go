package photo

import (
	"strings"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/datamatrix"
	"github.com/makiuchi-d/gozxing/oned"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// separator is FNC1 as readers pass it on: ASCII 29.
const separator = "\x1d"

// reader reads one kind of symbol.
type reader struct {
	symbol string
	new    func() gozxing.Reader
	mark   func(text string) string // puts the symbology identifier before the text
}

var (
	matrix = reader{"Data Matrix", func() gozxing.Reader { return datamatrix.NewDataMatrixReader() },
		func(text string) string {
			if rest, gs1 := strings.CutPrefix(text, separator); gs1 { // FNC1 in first position
				return "]d2" + rest
			}
			return "]d1" + text
		}}
	lines = reader{"Code 128", oned.NewCode128Reader, func(text string) string {
		if strings.HasPrefix(text, "]C1") {
			return text
		}
		return "]C0" + text
	}}
	quick = reader{"QR Code", qrcode.NewQRCodeReader, func(text string) string { return text }}

	allReaders  = []reader{matrix, lines, quick}
	lineReaders = []reader{lines}
)

// hints make the reader of Code 128 keep FNC1, and all of them look well.
var hints = map[gozxing.DecodeHintType]any{
	gozxing.DecodeHintType_TRY_HARDER: true,
	gozxing.DecodeHintType_ASSUME_GS1: true,
}

// read tries the readers of a look, telling black from white first by what is
// near each point, then by the picture as a whole.
func (l look) read() (Reading, bool) {
	source := grey(l)
	for _, binarizer := range []gozxing.Binarizer{gozxing.NewHybridBinarizer(source),
		gozxing.NewGlobalHistgramBinarizer(source)} {
		bitmap, err := gozxing.NewBinaryBitmap(binarizer)
		if err != nil {
			continue
		}
		for _, r := range l.readers {
			if text := r.try(bitmap); text != "" {
				return Reading{r.mark(text), r.symbol}, true
			}
		}
	}
	return Reading{}, false
}

// grey hands a picture to the library.
func grey(l look) gozxing.LuminanceSource { return gozxing.NewLuminanceSourceFromImage(l.img) }

// try reads one symbol, or nothing. The library indexes freely into what it
// takes for a symbol; where that goes wrong there was none.
func (r reader) try(bitmap *gozxing.BinaryBitmap) (text string) {
	defer func() {
		if recover() != nil {
			text = ""
		}
	}()
	result, err := r.new().Decode(bitmap, hints)
	if err != nil {
		return ""
	}
	return result.GetText()
}
