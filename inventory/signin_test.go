package inventory_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/store/storetest"
)

// TestTenThousandPINs guesses every PIN of four digits on an enrolled terminal,
// as fast as the waits allow. In a year it gets through four hundred.
func TestTenThousandPINs(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	h.person("Cleo", inventory.Crew, "9735", "NORTH")
	tablet, began, looked := h.tablet(), h.now, 0
	counting := whileMatching{do: func() { looked++ }}
	for pin := 0; pin < 10000 && h.now.Sub(began) < 365*24*time.Hour; pin++ {
		for {
			_, err := h.s.Account.SignIn(h.ctx, "Cleo", fmt.Sprintf("%04d", pin), tablet, counting)
			require.Error(t, err)
			if inventory.KindOf(err) != inventory.TooMany {
				break
			}
			h.pass(20 * time.Minute)
			if pin > 50 {
				h.pass(24 * time.Hour)
			}
		}
	}
	assert.Less(t, looked, 420, "so many PINs were looked at")
	assert.Greater(t, looked, 300)

	_, err := h.s.Account.SignIn(h.ctx, "Cleo", "9735", account.From{Terminal: h.enrolled("another", "NORTH")}, reversed{})
	require.NoError(t, err, "on another terminal Cleo signs in all the while")
}

// TestTenThousandPINsElsewhere guesses every PIN as fast as it goes, one a
// second, wherever else one is typed: as a witness, for a late signature, and for
// one's own change of PIN in a session that was left open. A wrong one is looked
// at some dozens of times.
func TestTenThousandPINsElsewhere(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	h.person("Cleo", inventory.Crew, "9735", "NORTH")
	h.person("Dee", inventory.Crew, "9826", "NORTH")
	h.person("Eli", inventory.Crew, "9827", "NORTH")
	cookie, err := h.signIn("Cleo", "9735")
	require.NoError(t, err)
	cleo, err := h.s.Account.SessionActor(h.ctx, cookie)
	require.NoError(t, err)
	looked := map[string]int{}
	counting := func(how string) account.Secrets { return whileMatching{do: func() { looked[how]++ }} }
	for pin := range 10000 {
		guess, how := fmt.Sprintf("%04d", pin), []string{"a witness", "a late signature", "one's own change"}[pin%3]
		var err error
		switch how {
		case "a witness":
			_, err = h.s.Account.Sign(h.ctx, pda, account.Signing{Signature: &account.Signature{Person: "Dee",
				PIN: account.PIN(guess)}}, counting(how))
		case "a late signature":
			_, err = h.s.Account.SignAlone(h.ctx, pda, account.Signature{Person: "Eli", PIN: account.PIN(guess)}, counting(how))
		default:
			_, err = h.s.Account.ChangeOwnSecret(h.ctx, cleo, cookie, guess, "7350", counting(how))
		}
		require.Error(t, err, how)
		h.pass(time.Second)
	}
	for how, n := range looked {
		assert.Less(t, n, 30, how)
		assert.Greater(t, n, 5, how)
	}
	assert.Len(t, looked, 3)
	_, err = h.signIn("Cleo", "9735")
	require.NoError(t, err, "signing in is counted apart")
}

// TestNobodyLocksAStationOut: whoever tries names from far away, or from one
// terminal, keeps nobody from signing in on a station's terminal.
func TestNobodyLocksAStationOut(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	h.person("Cleo", inventory.Crew, "9735", "NORTH")
	h.person("Dee", inventory.Crew, "4821", "NORTH")
	h.person("Quinn Q", inventory.Quartermaster, "seven lamps at dusk", "NORTH")
	far := account.From{Address: "192.0.2.7"}
	for range 100 {
		for _, name := range []string{"Cleo", "Dee", "Quinn Q", "Nobody"} {
			_, err := h.s.Account.SignIn(h.ctx, name, "0000", far, reversed{})
			require.Error(t, err)
		}
		h.pass(time.Minute)
	}
	_, err := h.s.Account.SignIn(h.ctx, "Quinn Q", "seven lamps at dusk", far, reversed{})
	requireKind(t, inventory.TooMany, err)
	for name, secret := range map[string]string{"Cleo": "9735", "Dee": "4821", "Quinn Q": "seven lamps at dusk"} {
		_, err := h.signIn(name, secret)
		require.NoError(t, err, name)
	}

	// Somebody at the terminal itself: the name waits there, and so do names
	// that were tried wrongly; one that was not does not.
	for range 60 {
		_, _ = h.signIn("Cleo", "0000")
		_, _ = h.signIn("Nobody", "0000")
		h.pass(30 * time.Second)
	}
	_, err = h.signIn("Cleo", "9735")
	requireKind(t, inventory.TooMany, err)
	_, err = h.signIn("Dee", "4821")
	require.NoError(t, err)
}

// TestUnknownNamesAreTreatedAlike: a name that nobody has gets the same answers,
// the same work and the same waits as one that somebody has.
func TestUnknownNamesAreTreatedAlike(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	h.person("Cleo", inventory.Crew, "9735", "NORTH")
	h.tablet()
	looked := map[string]int{}
	for range 12 {
		var answers []error
		for _, name := range []string{"Cleo", "Nobody"} {
			_, err := h.s.Account.SignIn(h.ctx, name, "0000", h.tablet(), whileMatching{do: func() { looked[name]++ }})
			answers = append(answers, err)
		}
		assert.Equal(t, answers[0], answers[1])
	}
	assert.Equal(t, looked["Cleo"], looked["Nobody"])
	assert.Equal(t, account.FreeAttempts, looked["Cleo"])
}

// TestPINsAreForTerminals: a PIN works on a terminal that is enrolled for a
// station of the person, and nowhere else; a password works anywhere.
func TestPINsAreForTerminals(t *testing.T) {
	t.Parallel()
	storetest.Engines(t, func(t *testing.T, s inventory.Store) {
		h := newHouse(t, s)
		h.person("Cleo", inventory.Crew, "9735", "NORTH")
		h.person("Mo M", inventory.Manager, "seven lamps at dusk")
		north, south := h.enrolled("north phone", "NORTH"), h.enrolled("south phone", "SOUTH")
		try := func(name, secret, terminal string) error {
			_, err := h.s.Account.SignIn(h.ctx, name, secret, account.From{Terminal: terminal, Address: "192.0.2.7"}, reversed{})
			return err
		}
		require.NoError(t, try("Cleo", "9735", north))
		requireKind(t, inventory.SignedOut, try("Cleo", "9735", south))
		requireKind(t, inventory.SignedOut, try("Cleo", "9735", ""))
		requireKind(t, inventory.SignedOut, try("Cleo", "9735", "made up"))
		require.NoError(t, try("Mo M", "seven lamps at dusk", ""))
		require.NoError(t, try("Mo M", "seven lamps at dusk", south))

		cookie, err := h.s.Account.SignIn(h.ctx, "Cleo", "9735", account.From{Terminal: north}, reversed{})
		require.NoError(t, err)
		require.NoError(t, h.s.Account.RevokeTerminal(h.ctx, admin, 1))
		_, err = h.s.Account.SessionActor(h.ctx, cookie)
		requireKind(t, inventory.SignedOut, err)
		requireKind(t, inventory.SignedOut, try("Cleo", "9735", north))
	})
}

// TestOneTimeLinks: each lets one browser in, once, and not for long.
func TestOneTimeLinks(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	old, err := h.s.Account.WelcomeLink(h.ctx)
	require.NoError(t, err)
	link, err := h.s.Account.WelcomeLink(h.ctx)
	require.NoError(t, err)
	welcome := func(link string) error {
		_, err := h.s.Account.Welcome(h.ctx, link, "Ada First", "seven lamps at dusk", reversed{})
		return err
	}
	requireKind(t, inventory.NotFound, welcome(old))
	_, err = h.s.Account.Welcome(h.ctx, link, "Ada First", "password1234", reversed{})
	requireFields(t, err, "secret")
	h.pass(account.WelcomeLife + time.Second)
	requireKind(t, inventory.NotFound, welcome(link))
	link, err = h.s.Account.WelcomeLink(h.ctx)
	require.NoError(t, err)
	require.NoError(t, welcome(link))
	requireKind(t, inventory.NotFound, welcome(link))
	link, err = h.s.Account.WelcomeLink(h.ctx)
	require.NoError(t, err)
	assert.Empty(t, link, "somebody keeps the service")

	terminal, err := h.s.Account.AddTerminal(h.ctx, admin, "phone", "NORTH")
	require.NoError(t, err)
	enrol, err := h.s.Account.EnrolLink(h.ctx, admin, terminal.ID)
	require.NoError(t, err)
	_, err = h.s.Account.LinkTerminal(h.ctx, enrol)
	require.NoError(t, err, "looking uses nothing up")
	_, err = h.s.Account.EnrolByLink(h.ctx, enrol)
	require.NoError(t, err)
	_, err = h.s.Account.EnrolByLink(h.ctx, enrol)
	requireKind(t, inventory.NotFound, err)
}

// TestSessionsTurn: a session's secret is new with each sign-in, the one before
// is worth nothing, and another role, PIN or the end of access ends them all.
func TestSessionsTurn(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	p := h.person("Mo M", inventory.Manager, "seven lamps at dusk")
	in := func(before string) string {
		cookie, err := h.s.Account.SignIn(h.ctx, "Mo M", "seven lamps at dusk", account.From{Session: before,
			Browser: "Firefox"}, reversed{})
		require.NoError(t, err)
		return cookie
	}
	ended := func(cookie string) {
		t.Helper()
		_, err := h.s.Account.SessionActor(h.ctx, cookie)
		requireKind(t, inventory.SignedOut, err)
	}
	first := in("fixed by somebody else")
	ended("fixed by somebody else")
	second := in(first)
	ended(first)
	_, err := h.s.Account.ChangePerson(h.ctx, admin, p.ID, account.PersonChange{Role: inventory.Quartermaster}, reversed{})
	require.NoError(t, err)
	ended(second)

	here, there := in(""), in("")
	me, err := h.s.Account.SessionActor(h.ctx, here)
	require.NoError(t, err)
	list, err := h.s.Account.Sessions(h.ctx, me, me.Name)
	require.NoError(t, err)
	require.Len(t, list, 2)
	_, err = h.s.Account.ChangeOwnSecret(h.ctx, me, here, "wrong", "eight boats at noon", reversed{})
	requireFields(t, err, "old")
	fresh, err := h.s.Account.ChangeOwnSecret(h.ctx, me, here, "seven lamps at dusk", "eight boats at noon", reversed{})
	require.NoError(t, err)
	ended(here)
	ended(there)
	_, err = h.s.Account.SessionActor(h.ctx, fresh)
	require.NoError(t, err)
	_, err = h.s.Account.Sessions(h.ctx, me, "Ada")
	requireKind(t, inventory.Forbidden, err)
	sure, last, err := h.s.Account.Confirm(h.ctx, me, fresh, "eight boats at noon", reversed{})
	require.NoError(t, err)
	ended(fresh)
	require.NoError(t, h.s.Account.EndSessions(h.ctx, sure, me.Name, account.AllSessions))
	ended(last)
}

// TestSecretsThatAreRefused, and some that are not.
func TestSecretsThatAreRefused(t *testing.T) {
	t.Parallel()
	h := newHouse(t, storetest.OpenSQLite(t))
	n := 0
	try := func(role inventory.Role, secret string) error {
		n++
		_, err := h.s.Account.CreatePerson(h.ctx, admin, inventory.Person{Name: fmt.Sprintf("Wrenfield %c", 'A'+n),
			Role: role, Stations: []string{"NORTH"}}, secret, reversed{})
		return err
	}
	for _, pin := range []string{"0000", "1234", "4321", "7890", "1212", "123123", "2580", "1984", "123", "123456789",
		"48a1", "٤٨٢١"} {
		requireFields(t, try(inventory.Crew, pin), "secret")
	}
	for _, pin := range []string{"4821", "7350", "29640", "48213579"} {
		require.NoError(t, try(inventory.Crew, pin))
	}
	for _, password := range []string{"short one", "password1234", "Passw0rd!2026", "aaaaaaaaaaaa", "123456789012",
		"qwertyuiop123", "Welcome2026!!!", "stowkeeper2026",
		"abcabcabcabc", "iloveyou1234", "correcthorsebattery", "my wrenfield lamp", "adminadminadmin", "Mountain1Rainbow",
		"Butterfly-Dolphin!", "tourniquet2026!"} {
		requireFields(t, try(inventory.Manager, password), "secret")
	}
	for _, password := range []string{"seven lamps at dusk", "count it twice today", "what runs out first",
		"Fjord-kettle 91 moss", "zq8!vm2#ktw0pe"} {
		require.NoError(t, try(inventory.Manager, password))
	}
}
