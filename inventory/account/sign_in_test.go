package account_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/account"
	"stowkeeper/inventory/fixture"
	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/store/storetest"
)

// TestTenThousandPINs guesses every PIN of four digits on an enrolled terminal,
// as fast as the waits allow. In a year it gets through four hundred.
func TestTenThousandPINs(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Person("Cleo", inventory.Crew, "9735", "NORTH")
	tablet, began, looked := h.Tablet(), h.Now, 0
	counting := whileMatching{do: func() { looked++ }}
	for pin := 0; pin < 10000 && h.Now.Sub(began) < 365*24*time.Hour; pin++ {
		for {
			_, err := h.S.Account.SignIn(h.Ctx, "Cleo", fmt.Sprintf("%04d", pin), tablet, counting)
			require.Error(t, err)
			if inventory.KindOf(err) != inventory.TooMany {
				break
			}
			h.Pass(20 * time.Minute)
			if pin > 50 {
				h.Pass(24 * time.Hour)
			}
		}
	}
	assert.Less(t, looked, 420, "so many PINs were looked at")
	assert.Greater(t, looked, 300)

	_, err := h.S.Account.SignIn(h.Ctx, "Cleo", "9735", account.From{Terminal: h.Enrolled("another", "NORTH")},
		fixture.Reversed{})
	require.NoError(t, err, "on another terminal Cleo signs in all the while")
}

// TestTenThousandPINsElsewhere guesses every PIN as fast as it goes, one a
// second, wherever else one is typed: as a witness, for a late signature, and for
// one's own change of PIN in a session that was left open. A wrong one is looked
// at some dozens of times.
func TestTenThousandPINsElsewhere(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Person("Cleo", inventory.Crew, "9735", "NORTH")
	h.Person("Dee", inventory.Crew, "9826", "NORTH")
	h.Person("Eli", inventory.Crew, "9827", "NORTH")
	cookie, err := h.SignIn("Cleo", "9735")
	require.NoError(t, err)
	cleo, err := h.S.Account.SessionActor(h.Ctx, cookie)
	require.NoError(t, err)
	looked := map[string]int{}
	counting := func(how string) account.Secrets { return whileMatching{do: func() { looked[how]++ }} }
	for pin := range 10000 {
		guess, how := fmt.Sprintf("%04d", pin), []string{"a witness", "a late signature", "one's own change"}[pin%3]
		var err error
		switch how {
		case "a witness":
			_, err = h.S.Account.Sign(h.Ctx, fixture.PDA, account.Signing{Signature: &account.Signature{Person: "Dee",
				PIN: account.PIN(guess)}}, counting(how))
		case "a late signature":
			_, err = h.S.Account.SignAlone(h.Ctx, fixture.PDA, account.Signature{Person: "Eli", PIN: account.PIN(guess)},
				counting(how))
		default:
			_, err = h.S.Account.ChangeOwnSecret(h.Ctx, cleo, cookie, guess, "7350", counting(how))
		}
		require.Error(t, err, how)
		h.Pass(time.Second)
	}
	for how, n := range looked {
		assert.Less(t, n, 30, how)
		assert.Greater(t, n, 5, how)
	}
	assert.Len(t, looked, 3)
	_, err = h.SignIn("Cleo", "9735")
	require.NoError(t, err, "signing in is counted apart")
}

// TestNobodyLocksAStationOut: whoever tries names from far away, or from one
// terminal, keeps nobody from signing in on a station's terminal.
func TestNobodyLocksAStationOut(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Person("Cleo", inventory.Crew, "9735", "NORTH")
	h.Person("Dee", inventory.Crew, "4821", "NORTH")
	h.Person("Quinn Q", inventory.Quartermaster, "seven lamps at dusk", "NORTH")
	far := account.From{Address: "192.0.2.7"}
	for range 100 {
		for _, name := range []string{"Cleo", "Dee", "Quinn Q", "Nobody"} {
			_, err := h.S.Account.SignIn(h.Ctx, name, "0000", far, fixture.Reversed{})
			require.Error(t, err)
		}
		h.Pass(time.Minute)
	}
	_, err := h.S.Account.SignIn(h.Ctx, "Quinn Q", "seven lamps at dusk", far, fixture.Reversed{})
	inventorytest.RequireKind(t, inventory.TooMany, err)
	for name, secret := range map[string]string{"Cleo": "9735", "Dee": "4821", "Quinn Q": "seven lamps at dusk"} {
		_, err := h.SignIn(name, secret)
		require.NoError(t, err, name)
	}

	// Somebody at the terminal itself: the name waits there, and so do names
	// that were tried wrongly; one that was not does not.
	for range 60 {
		_, _ = h.SignIn("Cleo", "0000")
		_, _ = h.SignIn("Nobody", "0000")
		h.Pass(30 * time.Second)
	}
	_, err = h.SignIn("Cleo", "9735")
	inventorytest.RequireKind(t, inventory.TooMany, err)
	_, err = h.SignIn("Dee", "4821")
	require.NoError(t, err)
}

// TestUnknownNamesAreTreatedAlike: a name that nobody has gets the same answers,
// the same work and the same waits as one that somebody has.
func TestUnknownNamesAreTreatedAlike(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Person("Cleo", inventory.Crew, "9735", "NORTH")
	h.Tablet()
	looked := map[string]int{}
	for range 12 {
		var answers []error
		for _, name := range []string{"Cleo", "Nobody"} {
			_, err := h.S.Account.SignIn(h.Ctx, name, "0000", h.Tablet(), whileMatching{do: func() { looked[name]++ }})
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
		h := fixture.New(t, s)
		h.Person("Cleo", inventory.Crew, "9735", "NORTH")
		h.Person("Mo M", inventory.Manager, "seven lamps at dusk")
		north, south := h.Enrolled("north phone", "NORTH"), h.Enrolled("south phone", "SOUTH")
		try := func(name, secret, terminal string) error {
			_, err := h.S.Account.SignIn(h.Ctx, name, secret, account.From{Terminal: terminal, Address: "192.0.2.7"},
				fixture.Reversed{})
			return err
		}
		require.NoError(t, try("Cleo", "9735", north))
		inventorytest.RequireKind(t, inventory.SignedOut, try("Cleo", "9735", south))
		inventorytest.RequireKind(t, inventory.SignedOut, try("Cleo", "9735", ""))
		inventorytest.RequireKind(t, inventory.SignedOut, try("Cleo", "9735", "made up"))
		require.NoError(t, try("Mo M", "seven lamps at dusk", ""))
		require.NoError(t, try("Mo M", "seven lamps at dusk", south))

		cookie, err := h.S.Account.SignIn(h.Ctx, "Cleo", "9735", account.From{Terminal: north}, fixture.Reversed{})
		require.NoError(t, err)
		require.NoError(t, h.S.Account.RevokeTerminal(h.Ctx, fixture.Admin, 1))
		_, err = h.S.Account.SessionActor(h.Ctx, cookie)
		inventorytest.RequireKind(t, inventory.SignedOut, err)
		inventorytest.RequireKind(t, inventory.SignedOut, try("Cleo", "9735", north))
	})
}

// TestOneTimeLinks: each lets one browser in, once, and not for long.
func TestOneTimeLinks(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	old, err := h.S.Account.WelcomeLink(h.Ctx)
	require.NoError(t, err)
	link, err := h.S.Account.WelcomeLink(h.Ctx)
	require.NoError(t, err)
	welcome := func(link string) error {
		_, err := h.S.Account.Welcome(h.Ctx, link, "Ada First", "seven lamps at dusk", fixture.Reversed{})
		return err
	}
	inventorytest.RequireKind(t, inventory.NotFound, welcome(old))
	_, err = h.S.Account.Welcome(h.Ctx, link, "Ada First", "password1234", fixture.Reversed{})
	inventorytest.RequireFields(t, err, "secret")
	h.Pass(account.WelcomeLife + time.Second)
	inventorytest.RequireKind(t, inventory.NotFound, welcome(link))
	link, err = h.S.Account.WelcomeLink(h.Ctx)
	require.NoError(t, err)
	require.NoError(t, welcome(link))
	inventorytest.RequireKind(t, inventory.NotFound, welcome(link))
	link, err = h.S.Account.WelcomeLink(h.Ctx)
	require.NoError(t, err)
	assert.Empty(t, link, "somebody keeps the service")

	terminal, err := h.S.Account.AddTerminal(h.Ctx, fixture.Admin, "phone", "NORTH")
	require.NoError(t, err)
	enrol, err := h.S.Account.EnrolLink(h.Ctx, fixture.Admin, terminal.ID)
	require.NoError(t, err)
	_, err = h.S.Account.LinkTerminal(h.Ctx, enrol)
	require.NoError(t, err, "looking uses nothing up")
	_, err = h.S.Account.EnrolByLink(h.Ctx, enrol)
	require.NoError(t, err)
	_, err = h.S.Account.EnrolByLink(h.Ctx, enrol)
	inventorytest.RequireKind(t, inventory.NotFound, err)
}

// TestSessionsTurn: a session's secret is new with each sign-in, the one before
// is worth nothing, and another role, PIN or the end of access ends them all.
func TestSessionsTurn(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	p := h.Person("Mo M", inventory.Manager, "seven lamps at dusk")
	in := func(before string) string {
		cookie, err := h.S.Account.SignIn(h.Ctx, "Mo M", "seven lamps at dusk", account.From{Session: before,
			Browser: "Firefox"}, fixture.Reversed{})
		require.NoError(t, err)
		return cookie
	}
	ended := func(cookie string) {
		t.Helper()
		_, err := h.S.Account.SessionActor(h.Ctx, cookie)
		inventorytest.RequireKind(t, inventory.SignedOut, err)
	}
	first := in("fixed by somebody else")
	ended("fixed by somebody else")
	second := in(first)
	ended(first)
	_, err := h.S.Account.ChangePerson(h.Ctx, fixture.Admin, p.ID, account.PersonChange{Role: inventory.Quartermaster},
		fixture.Reversed{})
	require.NoError(t, err)
	ended(second)

	here, there := in(""), in("")
	me, err := h.S.Account.SessionActor(h.Ctx, here)
	require.NoError(t, err)
	list, err := h.S.Account.Sessions(h.Ctx, me, me.Name)
	require.NoError(t, err)
	require.Len(t, list, 2)
	_, err = h.S.Account.ChangeOwnSecret(h.Ctx, me, here, "wrong", "eight boats at noon", fixture.Reversed{})
	inventorytest.RequireFields(t, err, "old")
	fresh, err := h.S.Account.ChangeOwnSecret(h.Ctx, me, here, "seven lamps at dusk", "eight boats at noon",
		fixture.Reversed{})
	require.NoError(t, err)
	ended(here)
	ended(there)
	_, err = h.S.Account.SessionActor(h.Ctx, fresh)
	require.NoError(t, err)
	_, err = h.S.Account.Sessions(h.Ctx, me, "Ada")
	inventorytest.RequireKind(t, inventory.Forbidden, err)
	sure, last, err := h.S.Account.Confirm(h.Ctx, me, fresh, "eight boats at noon", fixture.Reversed{})
	require.NoError(t, err)
	ended(fresh)
	require.NoError(t, h.S.Account.EndSessions(h.Ctx, sure, me.Name, account.AllSessions))
	ended(last)
}

// TestSecretsThatAreRefused, and some that are not.
func TestSecretsThatAreRefused(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	n := 0
	try := func(role inventory.Role, secret string) error {
		n++
		_, err := h.S.Account.CreatePerson(h.Ctx, fixture.Admin, inventory.Person{Name: fmt.Sprintf("Wrenfield %c", 'A'+n),
			Role: role, Stations: []string{"NORTH"}}, secret, fixture.Reversed{})
		return err
	}
	for _, pin := range []string{"0000", "1234", "4321", "7890", "1212", "123123", "2580", "1984", "123", "123456789",
		"48a1", "٤٨٢١"} {
		inventorytest.RequireFields(t, try(inventory.Crew, pin), "secret")
	}
	for _, pin := range []string{"4821", "7350", "29640", "48213579"} {
		require.NoError(t, try(inventory.Crew, pin))
	}
	for _, password := range []string{"short one", "password1234", "Passw0rd!2026", "aaaaaaaaaaaa", "123456789012",
		"qwertyuiop123", "Welcome2026!!!", "stowkeeper2026",
		"abcabcabcabc", "iloveyou1234", "correcthorsebattery", "my wrenfield lamp", "adminadminadmin", "Mountain1Rainbow",
		"Butterfly-Dolphin!", "tourniquet2026!"} {
		inventorytest.RequireFields(t, try(inventory.Manager, password), "secret")
	}
	for _, password := range []string{"seven lamps at dusk", "count it twice today", "what runs out first",
		"Fjord-kettle 91 moss", "zq8!vm2#ktw0pe"} {
		require.NoError(t, try(inventory.Manager, password))
	}
}

// TestStrangersKeepNobodyOut: somebody with a whole network of addresses, and another with one address in each of a
// thousand, try a name as fast as they can. Whoever it belongs to signs in at once from where they did lately, while
// the first goes on also from a network that is not theirs; and strangers are turned away before a hash is made when
// too many wait.
func TestStrangersKeepNobodyOut(t *testing.T) {
	t.Parallel()
	h := fixture.New(t, storetest.OpenSQLite(t))
	h.Person("Quinn", inventory.Quartermaster, "seven lamps at dusk")
	try := func(secret, address string, s account.Secrets) error {
		_, err := h.S.Account.SignIn(h.Ctx, "Quinn", secret, account.From{Address: address}, s)
		return err
	}
	const right, office = "seven lamps at dusk", "192.0.2.7"
	require.NoError(t, try(right, office, fixture.Reversed{}))
	looked := 0
	counting := whileMatching{do: func() { looked++ }}
	for i := range 120 {
		require.Error(t, try("a wrong guess", fmt.Sprintf("2001:db8:7:1::%x", i+1), counting))
		require.Error(t, try("a wrong guess", fmt.Sprintf("203.0.113.%d", i+1), counting))
		h.Pass(time.Second)
	}
	assert.Less(t, looked, 16, "tries from two networks")
	assert.NoError(t, try(right, "198.51.100.1", fixture.Reversed{}), "from another network, meanwhile")
	for i := range 1000 {
		_ = try("a wrong guess", fmt.Sprintf("10.%d.%d.1", i/250, i%250), counting)
	}
	inventorytest.RequireKind(t, inventory.TooMany, try(right, "198.51.101.1", fixture.Reversed{}))
	assert.NoError(t, try(right, office, fixture.Reversed{}), "where they signed in lately")
	for i := range 6 {
		want := map[bool]inventory.ErrorKind{true: inventory.SignedOut, false: inventory.TooMany}[i < 5]
		inventorytest.RequireKind(t, want, try("mistyped", office, fixture.Reversed{}))
	}

	h.Person("Mo", inventory.Manager, "nine doors by the sea")
	full := fullQueue{counting}
	looked = 0
	_, err := h.S.Account.SignIn(h.Ctx, "Mo", "nine doors by the sea", account.From{Address: office}, full)
	inventorytest.RequireKind(t, inventory.TooMany, err)
	assert.Zero(t, looked)
	require.NoError(t, try(right, "198.51.100.1", full), "one who is known there waits in line")
}

// fullQueue is secrets of which too many are being compared.
type fullQueue struct{ whileMatching }

func (fullQueue) Full() bool { return true }
