package inventory

import "time"

// Proof says who has proven themselves for one write, and when. Only Sign makes it.
type Proof struct {
	First, Second string // names, empty where nobody did
	At            Instant
}

// signingHolds is how long a proof stands: long enough for a write that lost a
// race to be tried again, and too short to be kept for another one.
const signingHolds = time.Minute

// Proven returns who has signed for a write that is made now.
func (a Actor) Proven(now Instant) Proof {
	if a.Proof.At == 0 || now > a.Proof.At.Add(signingHolds) {
		return Proof{}
	}
	return a.Proof
}

// BothSigned tells whether two people have signed for a write that is made now.
func (a Actor) BothSigned(now Instant) bool {
	p := a.Proven(now)
	return p.First != "" && p.Second != ""
}
