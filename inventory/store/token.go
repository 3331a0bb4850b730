package store

import (
	"database/sql"
	"strings"

	"stowkeeper/inventory"
)

type tokenRow struct {
	ID                int64
	Name, Role, Hash  string
	CreatedAt         instant `gorm:"not null;autoCreateTime:false"`
	CreatedBy         string
	EndsAt, RevokedAt instant
	LastUsed          day
	Scope             string // actions, with blanks between
}

type tokenStationRow struct {
	Token   int64  `gorm:"primaryKey;autoIncrement:false"`
	Station string `gorm:"primaryKey"`
}

func scopeText(scope []inventory.Action) string {
	return strings.Join(mapped(scope, func(a inventory.Action) string { return string(a) }), " ")
}

// tokens reads tokens, each once for each of their stations.
func (r reader) tokens(w where) ([]inventory.Token, error) {
	var out []inventory.Token
	err := r.each(`SELECT t.id, t.name, t.role, t.hash, t.created_at, t.created_by, t.ends_at, t.revoked_at, t.last_used,
    t.scope, s.station
FROM token t LEFT JOIN token_station s ON s.token = t.id`+w.String()+" ORDER BY t.id, s.station", w.args,
		func(rows *sql.Rows) error {
			var t inventory.Token
			var scope string
			var station code
			err := rows.Scan(&t.ID, &t.Name, &t.Role, &t.Hash, (*instant)(&t.CreatedAt), &t.CreatedBy,
				(*instant)(&t.EndsAt), (*instant)(&t.RevokedAt), (*day)(&t.LastUsed), &scope, &station)
			t.Scope = mapped(strings.Fields(scope), func(a string) inventory.Action { return inventory.Action(a) })
			if n := len(out); n == 0 || out[n-1].ID != t.ID {
				out = append(out, t)
			}
			out[len(out)-1].Stations = withStation(out[len(out)-1].Stations, station)
			return err
		})
	return out, failure("read tokens", "", err)
}

// TokenByHash returns the token with that hash, also a revoked one.
func (r reader) TokenByHash(hash string) (inventory.Token, error) {
	var w where
	w.and("t.hash = ?", hash)
	tokens, err := r.tokens(w)
	return only(tokens, err, "token")
}

func (r reader) Tokens() ([]inventory.Token, error) { return r.tokens(where{}) }

func (w writer) AddToken(t inventory.Token) (inventory.Token, error) {
	row := convert[tokenRow](t)
	row.ID, row.Scope = 0, scopeText(t.Scope)
	err := w.step("add token", "that token exists already", func() error {
		if err := w.insert(&row); err != nil {
			return err
		}
		t.ID = row.ID
		return w.addTokenStations(t)
	})
	return t, err
}

func (w writer) addTokenStations(t inventory.Token) error {
	return w.insert(mapped(t.Stations, func(station string) tokenStationRow {
		return tokenStationRow{t.ID, station}
	}))
}

// UpdateToken changes everything of a token but its id, its hash, its end and when and by whom it was made.
func (w writer) UpdateToken(t inventory.Token) error {
	return w.step("update token", "", func() error {
		if err := w.mustExec("token",
			"UPDATE token SET name = ?, role = ?, scope = ?, revoked_at = ?, last_used = ? WHERE id = ?",
			t.Name, string(t.Role), scopeText(t.Scope), instant(t.RevokedAt), day(t.LastUsed), t.ID); err != nil {
			return err
		}
		if _, err := w.exec("DELETE FROM token_station WHERE token = ?", t.ID); err != nil {
			return err
		}
		return w.addTokenStations(t)
	})
}

// TouchToken stores the day on which a token was used last.
func (w writer) TouchToken(id int64, used inventory.Day) error {
	return w.touch("touch token", "token", "UPDATE token SET last_used = ? WHERE id = ?", day(used), id)
}
