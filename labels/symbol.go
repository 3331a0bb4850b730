package labels

import (
	"fmt"
	"math"
	"strings"

	qrcode "github.com/skip2/go-qrcode"

	"stowkeeper/inventory/message"
)

// Level is a QR error correction level. Recoverable codewords: L 7 %, M 15 %, Q 25 %, H 30 %.
type Level int

// The four levels, weakest first.
const (
	L Level = iota
	M
	Q
	H
)

func (l Level) String() string { return "LMQH"[l : l+1] }

// Mode says how the text of a symbol is packed.
type Mode int

// The two modes that addresses need.
const (
	Alphanumeric Mode = iota // digits, capitals, space and $%*+-./: at 5.5 bits each
	Bytes                    // anything, at 8 bits a byte
)

func (m Mode) String() string {
	if m == Alphanumeric {
		return "alphanumeric"
	}
	return "bytes"
}

const (
	quietZone    = 4 // light modules on every side: ISO/IEC 18004, 9.1
	leastVersion = 2 // that is printed: version 1 has no alignment pattern to correct a bent label by
	lastVersion  = 40
)

// Fit tells how a symbol comes out on a label.
type Fit struct {
	Mode     Mode
	Version  int     // 2 to 40
	Level    Level   // error correction
	Modules  int     // modules on a side, quiet zone not counted
	ModuleMM float64 // printed side of one module, mm
	SideMM   float64 // printed side of the symbol, quiet zone not counted, mm
	// DistanceCM is the reading distance that the side allows, cm, at ten to one: common practice, in no standard.
	DistanceCM int
}

// ModeOf returns the mode that the whole of text is packed in.
func ModeOf(text string) Mode {
	for i := 0; i < len(text); i++ {
		c := text[i]
		if (c < '0' || c > '9') && (c < 'A' || c > 'Z') && strings.IndexByte(" $%*+-./:", c) < 0 {
			return Bytes
		}
	}
	return Alphanumeric
}

// VersionFor returns the smallest version, 1 to 40, that holds n characters of mode at level, or 0 when none does. It
// is the capacity table of ISO/IEC 18004 for a text packed in one mode. Labels print version 2 at the least.
func VersionFor(mode Mode, n int, level Level) int {
	for v := 1; v <= lastVersion; v++ {
		if capacity(v, level, mode) >= n {
			return v
		}
	}
	return 0
}

// leastModule is the printed minimum: the smallest module, in mm, on a label that gives its symbol a square of side
// mm. The steps are whole dots of a 203 dpi print head (0.125 mm): four dots a module is the least that DENSO WAVE,
// who invented the code, ask for (qrcode.com, "Point for setting the module size"), and a larger symbol is printed to
// be read from farther away, so it keeps five, eight or ten.
func leastModule(side float64) float64 {
	switch {
	case side < 30:
		return 0.5
	case side < 50:
		return 0.625
	case side < 90:
		return 1
	default:
		return 1.25
	}
}

// fitAt is the fit of text at one level in a square of side mm that includes the quiet zone.
func fitAt(text string, level Level, side float64) (Fit, bool) {
	mode := ModeOf(text)
	v := VersionFor(mode, len(text), level)
	if v == 0 {
		return Fit{}, false
	}
	v = max(v, leastVersion)
	f := Fit{Mode: mode, Version: v, Level: level, Modules: 17 + 4*v}
	f.ModuleMM = side / float64(f.Modules+2*quietZone)
	f.SideMM = f.ModuleMM * float64(f.Modules)
	f.DistanceCM = int(math.Round(f.SideMM)) // ten to one, and mm to cm
	return f, true
}

// choose takes, for a square of side mm that includes the quiet zone, the
// highest level whose modules are still as large as the printed minimum.
func choose(text string, side float64) (Fit, error) {
	least := leastModule(side)
	var weakest Fit
	for level := H; level >= L; level-- {
		f, ok := fitAt(text, level, side)
		if !ok {
			continue
		}
		if f.ModuleMM >= least-1e-9 {
			return f, nil
		}
		weakest = f
	}
	if weakest.Version == 0 {
		return Fit{}, &RefusedError{
			Reason:  message.M("the address is too long for a QR code"),
			Nearest: shorter,
		}
	}
	return Fit{}, &RefusedError{
		Reason: message.M("QR code too dense: {1} mm, at least {2} mm needed",
			fmt.Sprintf("%.2f", weakest.ModuleMM), fmt.Sprintf("%.2f", least)),
		Nearest: shorter,
	}
}

var shorter = message.M("use a shorter base URL")

// encode returns the modules of text as rows, dark is true, no quiet zone.
func encode(text string, f Fit) ([][]bool, error) {
	q, err := qrcode.NewWithForcedVersion(text, f.Version, qrcode.RecoveryLevel(f.Level))
	if err != nil {
		return nil, fmt.Errorf("encode version %d level %s: %w", f.Version, f.Level, err)
	}
	q.DisableBorder = true
	return q.Bitmap(), nil
}

// run is a row of touching dark modules.
type run struct{ x, y, n int }

// runs joins the dark modules of each row, so that a symbol is drawn with a
// third of the rectangles and without seams inside them.
func runs(modules [][]bool) []run {
	out := make([]run, 0, len(modules)*len(modules)/3)
	for y, row := range modules {
		for x := 0; x < len(row); x++ {
			if !row[x] {
				continue
			}
			start := x
			for x < len(row) && row[x] {
				x++
			}
			out = append(out, run{start, y, x - start})
		}
	}
	return out
}
