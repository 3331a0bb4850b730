package labels

import (
	"encoding/json"
	"errors"
	"os"
	"strings"
	"testing"

	qrcode "github.com/skip2/go-qrcode"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// published is testdata/qr-capacity.json; the file names its source.
type published struct {
	Versions []struct {
		Version, Modules    int
		Alphanumeric, Bytes [4]int
	}
}

func readPublished(t *testing.T) published {
	t.Helper()
	data, err := os.ReadFile("../testdata/qr-capacity.json")
	require.NoError(t, err)
	var p published
	require.NoError(t, json.Unmarshal(data, &p))
	require.Len(t, p.Versions, 10)
	return p
}

// of is the smallest version that the table gives n characters, or 11 when it
// has none.
func (p published) of(mode Mode, n int, level Level) int {
	for _, v := range p.Versions {
		room := v.Alphanumeric
		if mode == Bytes {
			room = v.Bytes
		}
		if room[level] >= n {
			return v.Version
		}
	}
	return 11
}

// The version for every length from 1 to 200 in both modes at all levels is
// that of the capacity table of ISO/IEC 18004, and the encoder agrees.
func TestVersionForEveryLength(t *testing.T) {
	table := readPublished(t)
	beyond := 0
	for mode, letter := range map[Mode]string{Alphanumeric: "A", Bytes: "a"} {
		for n := 1; n <= 200; n++ {
			text := strings.Repeat(letter, n)
			require.Equal(t, mode, ModeOf(text))
			for level := L; level <= H; level++ {
				v := VersionFor(mode, n, level)
				if want := table.of(mode, n, level); want <= 10 {
					require.Equal(t, want, v, "%s %d %s", mode, n, level)
				} else {
					require.Greater(t, v, 10, "%s %d %s", mode, n, level)
					beyond++
				}
				q, err := qrcode.New(text, qrcode.RecoveryLevel(level))
				require.NoError(t, err)
				require.Equal(t, q.VersionNumber, v, "%s %d %s: encoder", mode, n, level)
			}
		}
	}
	t.Logf("1,600 choices, %d of them beyond version 10, where only the encoder is compared", beyond)
}

func TestCapacityOfAllVersions(t *testing.T) {
	for _, row := range readPublished(t).Versions {
		for level := L; level <= H; level++ {
			assert.Equal(t, row.Alphanumeric[level], capacity(row.Version, level, Alphanumeric))
			assert.Equal(t, row.Bytes[level], capacity(row.Version, level, Bytes))
		}
		assert.Equal(t, row.Modules, 17+4*row.Version)
	}
	for v := 1; v <= lastVersion; v++ {
		for level := L; level <= H; level++ {
			for mode, letter := range map[Mode]string{Alphanumeric: "A", Bytes: "a"} {
				n := capacity(v, level, mode)
				_, err := qrcode.NewWithForcedVersion(strings.Repeat(letter, n), v, qrcode.RecoveryLevel(level))
				assert.NoError(t, err, "version %d level %s %s", v, level, mode)
				_, err = qrcode.NewWithForcedVersion(strings.Repeat(letter, n+1), v, qrcode.RecoveryLevel(level))
				assert.Error(t, err, "version %d level %s %s", v, level, mode)
			}
		}
	}
}

func TestModeOf(t *testing.T) {
	assert.Equal(t, Alphanumeric, ModeOf("HTTPS://KIT.EXAMPLE.ORG/B/KD7-442"))
	for _, text := range []string{"https://kit.example.org/b/KD7-442", "HTTPS://KIT.EXAMPLE.ORG/B?X", "A_B", "É"} {
		assert.Equal(t, Bytes, ModeOf(text), text)
	}
}

func TestUpperCaseMakesASmallerSymbol(t *testing.T) {
	upper := Address("https://stock.county.example", "KD7-442")
	const side = 33
	small, err := choose(upper, side)
	require.NoError(t, err)
	large, err := choose(strings.ToLower(upper), side)
	require.NoError(t, err)
	assert.Equal(t, H, small.Level)
	assert.Equal(t, H, large.Level)
	assert.Less(t, small.Version, large.Version)
	assert.Greater(t, small.ModuleMM, large.ModuleMM)
}

// Whatever the text and the room: the level is the highest one that keeps the
// printed minimum, the quiet zone is inside the room, and what is refused has
// no level that would do.
func TestChooseHighestLevel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		letter := rapid.SampledFrom([]string{"A", "a"}).Draw(t, "letter")
		text := strings.Repeat(letter, rapid.IntRange(1, 400).Draw(t, "length"))
		side := rapid.Float64Range(8, 200).Draw(t, "side")
		f, err := choose(text, side)
		if err != nil {
			for level := L; level <= H; level++ {
				other, ok := fitAt(text, level, side)
				require.True(t, !ok || other.ModuleMM < leastModule(side))
			}
			var refused *RefusedError
			require.True(t, errors.As(err, &refused))
			require.NotEmpty(t, refused.Nearest)
			return
		}
		require.GreaterOrEqual(t, f.Version, 2)
		require.GreaterOrEqual(t, f.ModuleMM, leastModule(side)-1e-6)
		require.InDelta(t, side, f.SideMM+2*4*f.ModuleMM, 1e-6)
		for level := f.Level + 1; level <= H; level++ {
			other, ok := fitAt(text, level, side)
			require.True(t, !ok || other.ModuleMM < leastModule(side))
		}
	})
}

func TestReadingDistanceIsTenToOne(t *testing.T) {
	f, err := choose(Address("https://kit.example.org", "KD7-442"), 63.7)
	require.NoError(t, err)
	assert.Equal(t, 3, f.Version)
	assert.InDelta(t, 1.72, f.ModuleMM, 0.01)
	assert.InDelta(t, 49.9, f.SideMM, 0.1)
	assert.Equal(t, 50, f.DistanceCM)
}

func TestRunsCoverExactlyTheDarkModules(t *testing.T) {
	text := Address("https://kit.example.org", "KD7-442")
	f, err := choose(text, 40)
	require.NoError(t, err)
	modules, err := encode(text, f)
	require.NoError(t, err)
	require.Len(t, modules, f.Modules)
	again := make([][]bool, f.Modules)
	for y := range again {
		again[y] = make([]bool, f.Modules)
	}
	list := runs(modules)
	dark := 0
	for _, r := range list {
		for x := r.x; x < r.x+r.n; x++ {
			require.False(t, again[r.y][x], "covered twice")
			again[r.y][x] = true
			dark++
		}
	}
	assert.Equal(t, modules, again)
	assert.Less(t, len(list), dark*2/3, "joined runs")
}
