package labels

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func lines(c *composer) []string {
	var out []string
	for _, t := range c.drawing.texts {
		out = append(out, t.s)
	}
	return out
}

// longCard has as many lines as asked for, in pouches of six.
func longCard(n int) Card {
	card := everyKind(1)[1].(Card)
	card.Contents = nil
	for i := range n {
		card.Contents = append(card.Contents, CardLine{
			Pouch: fmt.Sprintf("Pouch %c", 'A'+i/6), Item: fmt.Sprintf("Dressing, size %d", i), Quantity: i%9 + 1,
		})
	}
	return card
}

// The card is what it is asked to be: contents, earliest date, last full check,
// seal.
func TestCardSaysAllOfIt(t *testing.T) {
	for _, s := range Sheets() {
		c, err := compose(everyKind(1)[1], s.content())
		require.NoError(t, err)
		all := strings.Join(lines(c), " ")
		for _, want := range []string{"KD7-001", "Tourniquet, windlass", "Permanent marker", "Airway, size 7",
			"Earliest date 30 Jun 2027", "Last full check 2 Nov 2026", "Seal 004512"} {
			assert.Contains(t, all, want, s.Name)
		}
	}
}

func TestContentsAreCompleteAndInOrder(t *testing.T) {
	for _, s := range Sheets() {
		for _, n := range []int{1, 5, 12, 30, 60} {
			card := longCard(n)
			c, err := compose(card, s.content())
			if err != nil {
				continue // refused whole: TestContentsThatDoNotFitAreRefused
			}
			var got []string
			for _, line := range lines(c) {
				if strings.HasPrefix(line, "Dressing") {
					got = append(got, line)
				}
			}
			require.Len(t, got, n, s.Name)
			for i, line := range got {
				require.Equal(t, card.Contents[i].Item, line, s.Name)
			}
		}
	}
}

func TestWholePageHoldsALongCard(t *testing.T) {
	s := sheet(t, "a4-1x1")
	c, err := compose(longCard(120), s.content())
	require.NoError(t, err)
	assert.Empty(t, c.warnings)
	requireClean(t, c)
}

// A pouch's name is never left alone at the foot of a column.
func TestPouchStaysWithItsItems(t *testing.T) {
	for rows := 4; rows < 20; rows++ {
		list := (&composer{}).rows(longCard(36).Contents)
		a := arrangement{size: 3, width: 60}
		if !a.fits(list, 9, float64(rows)*3*rowHeight) {
			continue
		}
		for i, r := range list[:len(list)-1] {
			if r.pouch {
				require.Equal(t, a.cells[i].column, a.cells[i+1].column, "%d rows", rows)
			}
		}
	}
}

// Names that would look the same when shortened make the card be refused.
func TestShortenedNamesStayDifferent(t *testing.T) {
	card := longCard(1)
	for _, size := range []string{"small", "large"} {
		card.Contents = append(card.Contents, CardLine{Item: "Pressure" + strings.Repeat("x", 60) + size})
	}
	_, err := compose(card, sheet(t, "a4-3x7").content())
	assert.Error(t, err)
	_, err = compose(card, sheet(t, "a4-1x1").content())
	assert.NoError(t, err)
}

func TestEmptyFactsAreLinesToWriteOn(t *testing.T) {
	card := longCard(3)
	card.EarliestDate, card.LastFullCheck, card.Seal = "", "", ""
	c, err := compose(card, sheet(t, "a4-2x2").content())
	require.NoError(t, err)
	assert.Contains(t, strings.Join(lines(c), "|"), "Seal __________")
	assert.Contains(t, strings.Join(lines(c), "|"), "Earliest date __________")
}
