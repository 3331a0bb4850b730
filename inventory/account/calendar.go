package account

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"stowkeeper/inventory"
)

// calendarKey is how the key in a calendar's address begins. Such a key is a token of a crew member of one station who
// may only see. It is handed to programs of others, so it opens that calendar and nothing of the API.
const calendarKey = "cal_"

// calendarName is how the name of such a token begins; a number follows.
func calendarName(station string) string { return "Calendar " + station + " " }

func ofCalendar(t inventory.Token, station string) bool {
	return t.Role == inventory.Crew && slices.Equal(t.Stations, []string{station}) &&
		slices.Equal(t.Scope, []inventory.Action{inventory.ActSee}) && strings.HasPrefix(t.Name, calendarName(station))
}

// CreateCalendarKey makes the key of an address at which a station's calendar is read without signing in, and returns
// it; it is shown once and not kept. It ends as a token does. Refuses: Forbidden without keep_lists at the station, and
// for more than the actor may do; Invalid for the station, and where the actor has not just confirmed.
func (s *Service) CreateCalendarKey(ctx context.Context, by inventory.Actor, station string) (text string, err error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepLists, func(w inventory.Writer) (string, error) {
		if err := by.Must(inventory.ActKeepLists, station); err != nil {
			return "", err
		}
		all, err := w.Tokens()
		if err != nil {
			return "", err
		}
		n := 1
		for _, t := range all {
			if said, ok := strings.CutPrefix(t.Name, calendarName(station)); ok {
				number, _ := strconv.Atoi(said)
				n = max(n, number+1)
			}
		}
		return s.addToken(w, by, inventory.Token{Name: calendarName(station) + strconv.Itoa(n), Role: inventory.Crew,
			Stations: []string{station}, Scope: []inventory.Action{inventory.ActSee}}, calendarKey)
	})
}

// CalendarKeys lists the tokens of a station's calendar that let a program in, by id. Refuses: Forbidden without
// keep_lists at the station.
func (s *Service) CalendarKeys(ctx context.Context, by inventory.Actor, station string) ([]inventory.Token, error) {
	return inventory.ReadAs(ctx, s.store, by, inventory.ActKeepLists, func(r inventory.Reader) ([]inventory.Token, error) {
		if err := by.Must(inventory.ActKeepLists, station); err != nil {
			return nil, err
		}
		all, err := r.Tokens()
		return slices.DeleteFunc(all, func(t inventory.Token) bool {
			return !ofCalendar(t, station) || !t.Live(s.now())
		}), err
	})
}

// RevokeCalendarKey ends one of a station's calendar for good. Refuses: Forbidden without keep_lists at the station;
// NotFound for any other token; Conflict where it was revoked before.
func (s *Service) RevokeCalendarKey(ctx context.Context, by inventory.Actor, station string, id int64) (inventory.Token,
	error) {
	return inventory.WriteAs(ctx, s.store, by, inventory.ActKeepLists, func(w inventory.Writer) (inventory.Token, error) {
		if err := by.Must(inventory.ActKeepLists, station); err != nil {
			return inventory.Token{}, err
		}
		return s.revoke(w, by, func(t inventory.Token) bool { return t.ID == id && ofCalendar(t, station) })
	})
}

// CalendarActor returns who reads a calendar by the key in its address. Refuses: NotFound, the same whether the key is
// unknown, revoked or past its end. Wrong keys are not counted, as those of tokens and links are not: nobody guesses
// 260 bits, and a calendar that keeps asking by a revoked address would keep its whole network from signing in.
func (s *Service) CalendarActor(ctx context.Context, text string) (inventory.Actor, error) {
	by, err := inventory.Actor{}, inventory.Refuse(inventory.NotFound, "not found")
	if strings.HasPrefix(text, calendarKey) {
		if by, err = s.behind(ctx, text); inventory.KindOf(err) == inventory.SignedOut {
			err = inventory.Refuse(inventory.NotFound, "not found")
		}
	}
	return by, err
}
