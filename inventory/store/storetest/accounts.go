package storetest

import (
	"cmp"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
)

var accountPromises = []promise{
	{"a terminal is kept whole and found by its hash", terminalKept},
	{"a terminal is enrolled, used and revoked, and nothing else of it changes", terminalUpdated},
	{"a one-time link takes the place of the one before for the same, and is used up once", linkOnce},
	{"wrong tries are counted by subject, and forgotten when they are old", triesCounted},
	{"a token's scope and end are kept; its end is for good", tokenScope},
	{"sessions end by person or by terminal, and no others", sessionsEnded},
	{"what was done is kept whole, newest first, and narrowed", historyKept},
}

func (c *scene) addTerminal(t inventory.Terminal) inventory.Terminal {
	c.t.Helper()
	c.write(func(w inventory.Writer) (err error) {
		t, err = w.AddTerminal(t)
		return err
	})
	return t
}

func terminal(id int64) func(inventory.Reader) (inventory.Terminal, error) {
	return func(r inventory.Reader) (inventory.Terminal, error) { return r.Terminal(id) }
}

func terminalByHash(hash string) func(inventory.Reader) (inventory.Terminal, error) {
	return func(r inventory.Reader) (inventory.Terminal, error) { return r.TerminalByHash(hash) }
}

func terminalKept(c *scene) {
	whole := inventory.Terminal{Name: "Tablet", Station: north, Hash: "aa", CreatedAt: noon, CreatedBy: "Ada",
		EnrolledAt: noon + 1, RevokedAt: noon + 2, LastUsed: inventory.MustDay("2026-11-24")}
	kept, bare := c.addTerminal(whole), c.addTerminal(inventory.Terminal{Name: "Phone", CreatedAt: noon, CreatedBy: "Ada"})
	require.NotZero(c.t, kept.ID)
	whole.ID = kept.ID
	assert.Equal(c.t, whole, kept)
	assert.Equal(c.t, whole, got(c, terminal(kept.ID)))
	assert.Equal(c.t, whole, got(c, terminalByHash("aa")), "also a revoked one")
	// neither names nor missing hashes are unique
	c.addTerminal(inventory.Terminal{Name: "Tablet", CreatedAt: noon, CreatedBy: "Ada"})
	all := got(c, inventory.Reader.Terminals)
	require.Len(c.t, all, 3)
	assert.Equal(c.t, []inventory.Terminal{whole, bare}, all[:2])
	absent(c, terminal(999))
	absent(c, terminalByHash("bb"))
	absent(c, terminalByHash("")) // one that is not enrolled is found by nothing
	for _, bad := range []inventory.Terminal{
		{Name: "Twin", Hash: "aa", CreatedAt: noon, CreatedBy: "Ada", EnrolledAt: noon},
		{Name: "Nowhere", Station: "NOWHERE", CreatedAt: noon, CreatedBy: "Ada"},
		{Name: "Half", Hash: "cc", CreatedAt: noon, CreatedBy: "Ada"},
		{CreatedAt: noon, CreatedBy: "Ada"},
	} {
		c.refused(inventory.Conflict, func(w inventory.Writer) error {
			_, err := w.AddTerminal(bad)
			return err
		})
	}
}

func terminalUpdated(c *scene) {
	want := c.addTerminal(inventory.Terminal{Name: "Tablet", Station: north, CreatedAt: noon, CreatedBy: "Ada"})
	other := c.addTerminal(inventory.Terminal{Name: "Phone", Hash: "bb", EnrolledAt: noon, CreatedAt: noon,
		CreatedBy: "Ada"})
	changed := inventory.Terminal{ID: want.ID, Name: "Mine", Station: south, Hash: "aa", CreatedAt: 1, CreatedBy: "x",
		EnrolledAt: noon + 5, RevokedAt: noon + 6, LastUsed: inventory.MustDay("2026-11-25")}
	c.write(func(w inventory.Writer) error { return w.UpdateTerminal(changed) })
	want.Hash, want.EnrolledAt, want.RevokedAt, want.LastUsed = changed.Hash, changed.EnrolledAt, changed.RevokedAt,
		changed.LastUsed
	assert.Equal(c.t, []inventory.Terminal{want, other}, got(c, inventory.Reader.Terminals))
	changed.Hash = "bb"
	c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.UpdateTerminal(changed) })
	changed.Hash, changed.ID = "cc", 999
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.UpdateTerminal(changed) })
}

func linkOnce(c *scene) {
	one, two := c.addTerminal(inventory.Terminal{Name: "Tablet", CreatedAt: noon, CreatedBy: "Ada"}),
		c.addTerminal(inventory.Terminal{Name: "Phone", CreatedAt: noon, CreatedBy: "Ada"})
	link := func(hash string) func(inventory.Reader) (inventory.Link, error) {
		return func(r inventory.Reader) (inventory.Link, error) { return r.Link(hash) }
	}
	add := func(l inventory.Link) inventory.Link {
		c.t.Helper()
		c.write(func(w inventory.Writer) error { return w.AddLink(l) })
		return l
	}
	add(inventory.Link{Hash: "w1", For: inventory.LinkWelcome, EndsAt: noon + 1})
	add(inventory.Link{Hash: "e1", For: inventory.LinkEnrol, Terminal: one.ID, EndsAt: noon + 2})
	phone := add(inventory.Link{Hash: "e2", For: inventory.LinkEnrol, Terminal: two.ID, EndsAt: noon - 3})
	welcome := add(inventory.Link{Hash: "w2", For: inventory.LinkWelcome, EndsAt: noon + 4})
	tablet := add(inventory.Link{Hash: "e3", For: inventory.LinkEnrol, Terminal: one.ID, EndsAt: noon + 5})
	absent(c, link("w1"))
	absent(c, link("e1"))
	for _, want := range []inventory.Link{phone, welcome, tablet} { // also one past its end
		assert.Equal(c.t, want, got(c, link(want.Hash)))
	}
	c.write(func(w inventory.Writer) error { return w.UseLink("e3") })
	absent(c, link("e3"))
	c.refused(inventory.NotFound, func(w inventory.Writer) error { return w.UseLink("e3") })
	assert.Equal(c.t, phone, got(c, link("e2")), "of another terminal")
	for _, bad := range []inventory.Link{
		{Hash: "x", For: "other", EndsAt: noon}, {Hash: "x", For: inventory.LinkEnrol, EndsAt: noon},
		{Hash: "x", For: inventory.LinkWelcome, Terminal: one.ID, EndsAt: noon},
		{Hash: "x", For: inventory.LinkEnrol, Terminal: 999, EndsAt: noon}, {Hash: "e2", For: inventory.LinkEnrol,
			Terminal: one.ID, EndsAt: noon},
	} {
		c.refused(inventory.Conflict, func(w inventory.Writer) error { return w.AddLink(bad) })
	}
	assert.Equal(c.t, welcome, got(c, link("w2")), "a link that was refused takes no place")
}

func triesCounted(c *scene) {
	count := func(subjects ...string) (out []inventory.AttemptCounter) {
		c.t.Helper()
		c.write(func(w inventory.Writer) (err error) {
			out, err = w.LockAttempts(subjects)
			return err
		})
		return out
	}
	assert.Equal(c.t, []inventory.AttemptCounter{{Subject: "b"}, {Subject: "a"}, {Subject: "b"}}, count("b", "a", "b"),
		"in the order asked for, nothing for new ones")
	old, fresh := inventory.AttemptCounter{Subject: "a", Attempts: 3, LastAt: noon - 10, LockedTill: noon + 5},
		inventory.AttemptCounter{Subject: "b", Attempts: 1, LastAt: noon}
	c.write(func(w inventory.Writer) error {
		require.NoError(c.t, w.SetAttempts(old))
		return w.SetAttempts(fresh)
	})
	assert.Equal(c.t, []inventory.AttemptCounter{old, fresh}, count("a", "b"))
	c.refused(inventory.NotFound, func(w inventory.Writer) error {
		return w.SetAttempts(inventory.AttemptCounter{Subject: "never locked", Attempts: 1})
	})
	c.refused(inventory.Conflict, func(w inventory.Writer) error {
		return w.SetAttempts(inventory.AttemptCounter{Subject: "a", Attempts: -1})
	})
	c.write(func(w inventory.Writer) error { return w.ForgetAttempts(noon) })
	assert.Equal(c.t, []inventory.AttemptCounter{{Subject: "a"}, fresh}, count("a", "b"), "what was last counted before")
}

func tokenScope(c *scene) {
	want := c.addToken(inventory.Token{Name: "till", Role: inventory.Quartermaster, Stations: []string{north}, Hash: "aa",
		CreatedAt: noon, CreatedBy: "Ada", EndsAt: noon + 9,
		Scope: []inventory.Action{inventory.ActSee, inventory.ActKeepStock}})
	assert.Equal(c.t, want, got(c, token("aa")))
	changed := want
	changed.Scope, changed.RevokedAt = []inventory.Action{inventory.ActReport}, noon+3
	kept := changed
	changed.EndsAt, changed.CreatedBy, changed.CreatedAt, changed.Hash = noon+99, "x", noon+1, "bb"
	c.write(func(w inventory.Writer) error { return w.UpdateToken(changed) })
	assert.Equal(c.t, kept, got(c, token("aa")))
	absent(c, token("bb"))
	kept.Scope = nil
	c.write(func(w inventory.Writer) error { return w.UpdateToken(kept) })
	assert.Empty(c.t, got(c, token("aa")).Scope)
}

func sessionsEnded(c *scene) {
	t1, t2 := c.addTerminal(inventory.Terminal{Name: "Tablet", CreatedAt: noon, CreatedBy: "Ada"}),
		c.addTerminal(inventory.Terminal{Name: "Phone", CreatedAt: noon, CreatedBy: "Ada"})
	p, q := c.addPerson(fullPerson()), c.addPerson(inventory.Person{Name: "Other", Role: inventory.Crew})
	begin := func() {
		c.write(func(w inventory.Writer) error {
			for i, s := range []inventory.Session{{Hash: "p1", Person: p.ID, Terminal: t1.ID}, {Hash: "p0", Person: p.ID},
				{Hash: "q1", Person: q.ID, Terminal: t1.ID}, {Hash: "q2", Person: q.ID, Terminal: t2.ID}, {Hash: "q0",
					Person: q.ID}} {
				s.Device, s.CreatedAt, s.SeenAt, s.EndsAt = "a browser", noon, noon+inventory.Instant(i), noon+100
				if err := w.AddSession(s); err != nil {
					return err
				}
			}
			return nil
		})
	}
	left := func() (out []string) {
		for _, person := range []int64{p.ID, q.ID} {
			for _, s := range got(c, func(r inventory.Reader) ([]inventory.Session, error) { return r.Sessions(person) }) {
				out = append(out, s.Hash)
			}
		}
		return out
	}
	begin()
	everybody := got(c, func(r inventory.Reader) ([]inventory.Session, error) { return r.Sessions(0) })
	if assert.Len(c.t, everybody, 5) {
		assert.Equal(c.t, "q0", everybody[0].Hash, "the one last seen first")
	}
	for _, x := range []struct {
		person, terminal int64
		left             []string
	}{{p.ID, 0, []string{"q0", "q2", "q1"}}, {0, t1.ID, []string{"p0", "q0", "q2"}}, {q.ID, t1.ID, []string{"p0"}},
		{0, 0, []string{"p0", "p1", "q0", "q2", "q1"}}} {
		c.write(func(w inventory.Writer) error {
			return cmp.Or(w.EndSessions(p.ID, 0), w.EndSessions(q.ID, 0))
		})
		begin()
		c.write(func(w inventory.Writer) error { return w.EndSessions(x.person, x.terminal) })
		assert.Equal(c.t, x.left, left(), "the one last seen first")
	}
}

func historyKept(c *scene) {
	whole := inventory.HistoryEntry{RecordedAt: noon, By: "Ada", From: "Tablet", Kind: inventory.HistoryMovement,
		Station: north, Place: northStore, OtherPlace: bagOne, LotID: c.lot.ID, BatchID: c.batch.ID, Person: "Bo",
		Detail: "3, stow"}
	south1 := inventory.HistoryEntry{RecordedAt: noon + 1, By: "Bo", Kind: inventory.HistorySealCheck, Station: south,
		Place: bagTwo}
	ofNone := inventory.HistoryEntry{RecordedAt: noon + 2, By: "Ada", Kind: inventory.HistoryItem, Detail: bandage}
	across := inventory.HistoryEntry{RecordedAt: noon + 3, By: "Cy", Kind: inventory.HistoryMovement, Station: south,
		Place: southStore, OtherPlace: northStore}
	entry := inventory.HistoryEntry{RecordedAt: noon + 4, By: "Cy", Kind: inventory.HistorySignedIn, Person: "Cy"}
	all := []*inventory.HistoryEntry{&entry, &across, &ofNone, &south1, &whole}
	c.write(func(w inventory.Writer) error { return w.AddHistory([]inventory.HistoryEntry{whole, south1}) })
	c.write(func(w inventory.Writer) error { return w.AddHistory([]inventory.HistoryEntry{ofNone, across, entry}) })
	c.write(func(w inventory.Writer) error { return w.AddHistory(nil) })
	entries := func(f inventory.HistoryFilter, p inventory.Page) []inventory.HistoryEntry {
		c.t.Helper()
		return got(c, func(r inventory.Reader) ([]inventory.HistoryEntry, error) { return r.HistoryEntries(f, p) })
	}
	kept := entries(inventory.HistoryFilter{}, inventory.Page{})
	require.Len(c.t, kept, len(all))
	for i, d := range all {
		require.Greater(c.t, kept[i].ID, int64(0))
		d.ID = kept[i].ID
		assert.Equal(c.t, *d, kept[i])
	}
	for _, x := range []struct {
		f    inventory.HistoryFilter
		want []inventory.HistoryEntry
	}{
		// of the station, of none, and what touches a place of it
		{inventory.HistoryFilter{Stations: []string{north}}, []inventory.HistoryEntry{entry, across, ofNone, whole}},
		{inventory.HistoryFilter{Stations: []string{south}}, []inventory.HistoryEntry{entry, across, ofNone, south1}},
		{inventory.HistoryFilter{Not: []inventory.HistoryKind{inventory.HistorySignedIn, inventory.HistoryItem}},
			[]inventory.HistoryEntry{across, south1, whole}},
		{inventory.HistoryFilter{Only: inventory.HistoryMovement, Since: noon + 1}, []inventory.HistoryEntry{across}},
		{inventory.HistoryFilter{Place: northStore}, []inventory.HistoryEntry{across, whole}},
		{inventory.HistoryFilter{BatchNo: "B-1"}, []inventory.HistoryEntry{whole}},
		{inventory.HistoryFilter{BatchNo: "B-2"}, nil},
		{inventory.HistoryFilter{Person: "Bo"}, []inventory.HistoryEntry{south1, whole}},
		{inventory.HistoryFilter{Since: noon + 1, Before: noon + 3}, []inventory.HistoryEntry{ofNone, south1}},
		{inventory.HistoryFilter{Person: "Cy", Place: northStore}, []inventory.HistoryEntry{across}},
	} {
		assert.ElementsMatch(c.t, x.want, entries(x.f, inventory.Page{}), "%+v", x.f)
	}
	first := entries(inventory.HistoryFilter{}, inventory.Page{Limit: 2})
	assert.Equal(c.t, kept[:2], first)
}
