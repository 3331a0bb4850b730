package inventory

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
)

// ChainHash returns the hash of a movement in its station's chain: SHA-256 over the previous hash and the fixed byte
// form of the row, in hexadecimal. The first movement of a chain has the empty previous hash.
//
// The byte form is every field in order, texts with their length before them as 4 bytes big-endian, numbers and
// instants (whole microseconds UTC) as 8 bytes big-endian. The id is left out, since the database gives it. number
// says by which number people stand in it, so that a name can be erased; nil is for movements from before there were
// such numbers, whose names are in it.
func ChainHash(prev string, m Movement, number func(name string) int64) string {
	var b []byte
	text := func(s string) {
		b = binary.BigEndian.AppendUint32(b, uint32(len(s))) // #nosec G115 -- texts are of a few kilobytes
		b = append(b, s...)
	}
	num := func(n int64) { b = binary.BigEndian.AppendUint64(b, uint64(n)) } // #nosec G115 -- the same bits

	who := text
	if number == nil {
		text("movement/1")
	} else {
		text("movement/2")
		who = func(name string) { num(number(name)) }
	}
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
	who(m.By)
	who(m.Witness)
	text(m.Reference)
	text(m.Note)
	num(m.Corrects)
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Head is the end of a chain: of a station's movements, or of its entries, or
// of the entries of the service, whose station is empty.
type Head struct {
	Station string `json:"chain" doc:"Station whose chain it is; service for what belongs to none"`
	Seq     int64  `json:"seq" doc:"Number of its last entry"`
	Hash    string `json:"hash" doc:"Hash of its last entry: kept elsewhere, it finds a chain that was cut or made again"`
}
