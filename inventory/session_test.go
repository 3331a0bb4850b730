package inventory

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// A terminal on which nobody signed in for more than a month may be lost; one that is new, revoked or not enrolled yet
// is none.
func TestSilentTerminals(t *testing.T) {
	today := MustDay("2026-03-31")
	at := func(d string) Instant { return MustDay(d).Start(time.UTC) }
	for want, all := range map[bool][]Terminal{
		true: {{Hash: "x", EnrolledAt: at("2026-02-28")},
			{Hash: "x", EnrolledAt: at("2025-01-01"), LastUsed: MustDay("2026-02-28")}},
		false: {{Hash: "x", EnrolledAt: at("2026-03-01")}, {EnrolledAt: at("2025-01-01")},
			{Hash: "x", EnrolledAt: at("2025-01-01"), LastUsed: MustDay("2026-03-01")},
			{Hash: "x", EnrolledAt: at("2025-01-01"), RevokedAt: at("2026-03-01")}},
	} {
		for _, x := range all {
			assert.Equal(t, want, x.Silent(today), "%+v", x)
		}
	}
}
