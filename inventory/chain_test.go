package inventory_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"reflect"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/message"
)

// byteForm writes a row a second time from the description of the byte form:
// "texts with their length before them as 4 bytes big-endian, numbers and
// instants as 8 bytes big-endian".
func byteForm(prev string, m inventory.Movement) []byte {
	var b bytes.Buffer
	for _, v := range []any{"movement/1", prev, m.Station, m.Seq, m.LotID, m.IntoLotID, int64(m.Qty), m.From, m.To,
		string(m.Reason),
		string(m.Cause), int64(m.HappenedAt), int64(m.RecordedAt), m.By, m.Witness, m.Reference, m.Note, m.Corrects} {
		if s, ok := v.(string); ok {
			_ = binary.Write(&b, binary.BigEndian, uint32(len(s)))
			b.WriteString(s)
			continue
		}
		_ = binary.Write(&b, binary.BigEndian, v)
	}
	return b.Bytes()
}

var chained = inventory.Movement{
	ID: 9, Station: "NORTH", Seq: 3, LotID: 4, IntoLotID: 5, Qty: 6, From: "NORTH-STORE", To: "N-01",
	Reason: inventory.ReasonStow,
	Cause:  inventory.CauseOther, HappenedAt: inventorytest.At("2027-06-14T07:30:00.123456Z"),
	RecordedAt: inventorytest.At("2027-06-14T07:31:00Z"),
	By:         "Ada",
	Witness:    "Bo", Reference: "R-1", Note: "zwei Stück", Corrects: 2, PrevHash: "before", Hash: "after",
}

func TestChainHashIsTheByteForm(t *testing.T) {
	for _, prev := range []string{"", "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"} {
		sum := sha256.Sum256(byteForm(prev, chained))
		assert.Equal(t, hex.EncodeToString(sum[:]), inventory.ChainHash(prev, chained, nil))
	}
}

// TestChainHashNoticesEveryField changes each field of a movement in turn. Only
// the id, which the database gives, the two hashes, and what is not stored with
// the row are left out.
func TestChainHashNoticesEveryField(t *testing.T) {
	base := inventory.ChainHash("p", chained, nil)
	assert.NotEqual(t, base, inventory.ChainHash("q", chained, nil), "the previous hash counts")
	fields := reflect.TypeFor[inventory.Movement]()
	for i := range fields.NumField() {
		changed := chained
		switch f := reflect.ValueOf(&changed).Elem().Field(i); f.Kind() {
		case reflect.String:
			f.SetString(f.String() + "x")
		case reflect.Bool:
			f.SetBool(true)
		case reflect.Slice:
			f.Set(reflect.ValueOf(message.M("fully signed already")))
		default:
			f.SetInt(f.Int() + 1)
		}
		name := fields.Field(i).Name
		leftOut := slices.Contains([]string{"ID", "PrevHash", "Hash", "Owed", "OwnOwed", "AuthorisedBy", "Doubt"}, name)
		assert.Equal(t, leftOut, inventory.ChainHash("p", changed, nil) == base, name)
	}
}

// TestChainHashKeepsFieldsApart: moving a character from one text to the next
// makes another hash.
func TestChainHashKeepsFieldsApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringN(1, 12, 40).Draw(t, "text")
		cut := rapid.IntRange(0, len(s)).Draw(t, "cut")
		other := rapid.IntRange(0, len(s)).Draw(t, "other cut")
		a, b := inventory.Movement{Reference: s[:cut], Note: s[cut:]}, inventory.Movement{Reference: s[:other],
			Note: s[other:]}
		if (cut == other) != (inventory.ChainHash("", a, nil) == inventory.ChainHash("", b, nil)) {
			t.Fatalf("cuts at %d and %d", cut, other)
		}
	})
}

func TestChainStation(t *testing.T) {
	north := inventory.Place{Code: "NORTH-STORE", Station: "NORTH", Kind: inventory.KindStore}
	south := inventory.Place{Code: "S-01", Station: "SOUTH", Kind: inventory.KindBag}
	assert.Equal(t, "NORTH", inventory.ChainStation(north, south), "that of from")
	assert.Equal(t, "NORTH", inventory.ChainStation(north, inventory.OutsidePlace(inventory.KindUsed)))
	assert.Equal(t, "SOUTH", inventory.ChainStation(inventory.OutsidePlace(inventory.KindSupplier), south),
		"of to, when from is outside")
}
