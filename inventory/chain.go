package inventory

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
)

// ChainHash returns the hash of a movement in its station's chain: SHA-256 over
// the previous hash and the fixed byte form of the row, in hexadecimal. The
// first movement of a chain has the empty previous hash.
//
// The byte form is every field in order, texts with their length before them
// as 4 bytes big-endian, numbers and instants (whole microseconds UTC) as 8
// bytes big-endian. The id is left out, since the database gives it.
func ChainHash(prev string, m Movement) string {
	var b []byte
	text := func(s string) {
		b = binary.BigEndian.AppendUint32(b, uint32(len(s)))
		b = append(b, s...)
	}
	num := func(n int64) { b = binary.BigEndian.AppendUint64(b, uint64(n)) }

	text("movement/1")
	text(prev)
	text(m.Station)
	num(m.Seq)
	num(m.LotID)
	num(m.IntoLotID)
	num(int64(m.Qty))
	text(m.From)
	text(m.To)
	text(string(m.Reason))
	text(string(m.Cause))
	num(int64(m.HappenedAt))
	num(int64(m.RecordedAt))
	text(m.By)
	text(m.Witness)
	text(m.Reference)
	text(m.Note)
	num(m.Corrects)
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Head is the end of a station's chain, as it stands on the station's row.
type Head struct {
	Station string
	Seq     int64
	Hash    string
}
