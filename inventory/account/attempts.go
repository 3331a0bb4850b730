package account

import (
	"fmt"
	"net/netip"
	"time"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"

	"stowkeeper/inventory"
)

// tryRule says how many wrong tries a subject has before it waits, and how long: Step after the first that is too
// many, twice as long with each further one, at most Longest. From Hard tries on, if there is such a number, it waits
// HardWait. A count is forgotten when nothing was tried for Forget.
type tryRule struct {
	free           int
	step, longest  time.Duration
	hard           int
	hardWait       time.Duration
	forget         time.Duration
	onlySuspicious bool // holds for names with wrong tries of their own only
}

// LockStep is the first wait; it doubles with each further wrong try.
const LockStep = time.Minute

// lockAfter returns until when somebody who signs waits after so many wrong PINs in a row.
func lockAfter(tries int, now inventory.Instant) inventory.Instant {
	return nameOnTerminal.next(inventory.AttemptCounter{Attempts: tries - 1}, now).LockedTill
}

// FreeAttempts is how many wrong secrets a name has on one terminal, or from one address, before its first wait.
const FreeAttempts = 5

// The rules. What locks is always a name on one terminal, or what comes from terminals that nobody enrolled: somebody
// far away who tries names cannot keep a station's people from signing in on the station's own terminals, nor anybody
// from an address where they signed in lately, and somebody who stands at one of those cannot keep a name from
// another. Addresses of one network are one, since who has one has them all. From the fiftieth wrong PIN on there is
// one try a day, so that ten thousand PINs take decades (NIST SP 800-63B allows a hundred in a row, from memory).
var (
	nameOnTerminal = tryRule{free: FreeAttempts, step: time.Minute, longest: 15 * time.Minute, hard: 50,
		hardWait: 24 * time.Hour, forget: 30 * 24 * time.Hour}
	wholeTerminal = tryRule{free: 20, step: time.Minute, longest: 15 * time.Minute, forget: time.Hour,
		onlySuspicious: true}
	nameFromAddress = tryRule{free: FreeAttempts, step: time.Minute, longest: 15 * time.Minute, forget: 24 * time.Hour}
	nameElsewhere   = tryRule{free: 50, step: time.Minute, longest: time.Minute, forget: 24 * time.Hour}
	wholeAddress    = tryRule{free: 30, step: time.Minute, longest: 15 * time.Minute, forget: time.Hour}
)

// keepAttempts is the longest time for which anything is counted.
const keepAttempts = 30 * 24 * time.Hour

// next returns what is counted after one more wrong try at now.
func (r tryRule) next(t inventory.AttemptCounter, now inventory.Instant) inventory.AttemptCounter {
	if t.LastAt != 0 && now > t.LastAt.Add(r.forget) {
		t.Attempts = 0
	}
	t.Attempts, t.LastAt, t.LockedTill = t.Attempts+1, now, 0
	switch over := t.Attempts - r.free; {
	case r.hard > 0 && t.Attempts >= r.hard:
		t.LockedTill = now.Add(r.hardWait)
	case over >= 0:
		t.LockedTill = now.Add(min(r.step<<min(over, 10), r.longest))
	}
	return t
}

// counter is one subject with its rule.
type counter struct {
	subject string
	rule    tryRule
}

// countersOf lists what a try to sign in counts against. The name on its own stands first. A name is kept as a hash:
// it may be a password that was typed into the wrong field. known tells that they signed in from that address lately.
func countersOf(name string, terminal int64, address string, known bool) []counter {
	who := nameSubject(name)
	if terminal != 0 {
		here := fmt.Sprintf("terminal %d", terminal)
		return []counter{{who + " on " + here, nameOnTerminal}, {here, wholeTerminal}}
	}
	if known {
		return []counter{{who + " from " + addressSubject(address), nameFromAddress}}
	}
	from := addressSubject(networkOf(address))
	return []counter{{who + " from " + from, nameFromAddress}, {who + " elsewhere", nameElsewhere}, {from, wholeAddress}}
}

// knownSubject is under what it is kept that a person signed in from an address.
func knownSubject(name, address string) string {
	return nameSubject(name) + " in from " + addressSubject(address)
}

func nameSubject(name string) string {
	return "name " + inventory.HashSecret(cases.Fold().String(norm.NFC.String(inventory.OneLine(name))))[:32]
}

func addressSubject(address string) string { return "address " + inventory.HashSecret(address)[:32] }

// networkOf is what of an address one customer of a network has: 24 bits of IPv4, 64 of IPv6 (RFC 6177; common
// practice for IPv4).
func networkOf(address string) string {
	a, err := netip.ParseAddr(address)
	if err != nil {
		return address
	}
	bits := 64
	if a = a.Unmap(); a.Is4() {
		bits = 24
	}
	p, _ := a.WithZone("").Prefix(bits) // bits that both have
	return p.String()
}

// lockedTill returns until when a try must wait, given what is counted, in the
// order of its counters; 0 for not at all.
func lockedTill(counters []counter, tries []inventory.AttemptCounter, now inventory.Instant) inventory.Instant {
	var till inventory.Instant
	clean := tries[0].Attempts == 0 || now > tries[0].LastAt.Add(counters[0].rule.forget)
	for i, c := range counters {
		if inventory.ClockJumped(tries[i].LastAt, now) { // a lock of a clock that was set back since
			continue
		}
		if t := tries[i].LockedTill; now < t && !(c.rule.onlySuspicious && clean) {
			till = max(till, t)
		}
	}
	return till
}
