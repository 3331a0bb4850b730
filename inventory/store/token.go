package store

import (
	"strings"

	"gorm.io/gorm"

	"stowkeeper/inventory"
)

type tokenRow struct {
	ID        int64 `gorm:"primaryKey;autoIncrement"`
	Name      string
	Role      string
	Hash      string
	CreatedAt instant `gorm:"not null;autoCreateTime:false"`
	CreatedBy string
	EndsAt    instant
	RevokedAt instant
	LastUsed  day
	Scope     string // actions, with blanks between
}

func (tokenRow) TableName() string { return "token" }

type tokenStationRow struct {
	Token   int64  `gorm:"primaryKey;autoIncrement:false"`
	Station string `gorm:"primaryKey"`
}

func (tokenStationRow) TableName() string { return "token_station" }

func (t tokenRow) value() inventory.Token {
	return inventory.Token{
		ID: t.ID, Name: t.Name, Role: inventory.Role(t.Role), Scope: mapped(strings.Fields(t.Scope),
			func(a string) inventory.Action { return inventory.Action(a) }),
		Hash: t.Hash, CreatedAt: inventory.Instant(t.CreatedAt), CreatedBy: t.CreatedBy, EndsAt: inventory.Instant(t.EndsAt),
		RevokedAt: inventory.Instant(t.RevokedAt), LastUsed: inventory.Day(t.LastUsed),
	}
}

func scopeText(scope []inventory.Action) string {
	return strings.Join(mapped(scope, func(a inventory.Action) string { return string(a) }), " ")
}

func (r reader) tokens(cond func(*gorm.DB) *gorm.DB) ([]inventory.Token, error) {
	var rows []tokenRow
	if err := cond(r.gorm()).Order("id").Find(&rows).Error; err != nil {
		return nil, failure("read tokens", "", err)
	}
	stations, err := r.stationsOf("token_station", "token", mapped(rows, func(t tokenRow) int64 { return t.ID }))
	return mapped(rows, func(row tokenRow) inventory.Token {
		t := row.value()
		t.Stations = stations[t.ID]
		return t
	}), err
}

// TokenByHash returns the token with that hash, also a revoked one.
func (r reader) TokenByHash(hash string) (inventory.Token, error) {
	tokens, err := r.tokens(func(q *gorm.DB) *gorm.DB { return q.Where("hash = ?", hash) })
	if err == nil && len(tokens) == 0 {
		err = notFound("token")
	}
	if err != nil {
		return inventory.Token{}, err
	}
	return tokens[0], nil
}

// Tokens returns all tokens by id.
func (r reader) Tokens() ([]inventory.Token, error) {
	return r.tokens(func(q *gorm.DB) *gorm.DB { return q })
}

// AddToken adds a token and gives it its id.
func (w writer) AddToken(t inventory.Token) (inventory.Token, error) {
	row := tokenRow{
		Name: t.Name, Role: string(t.Role), Hash: t.Hash, CreatedAt: instant(t.CreatedAt), CreatedBy: t.CreatedBy,
		EndsAt:    instant(t.EndsAt),
		RevokedAt: instant(t.RevokedAt), LastUsed: day(t.LastUsed), Scope: scopeText(t.Scope),
	}
	err := w.step("add token", "that token exists already", func() error {
		if err := w.gorm().Create(&row).Error; err != nil {
			return err
		}
		t.ID = row.ID
		return w.addTokenStations(t)
	})
	return t, err
}

func (w writer) addTokenStations(t inventory.Token) error {
	return createAll(w, mapped(t.Stations, func(station string) tokenStationRow {
		return tokenStationRow{t.ID,
			station}
	}))()
}

// UpdateToken changes everything of a token but its id, its hash, its end and
// when and by whom it was made.
func (w writer) UpdateToken(t inventory.Token) error {
	return w.step("update token", "", func() error {
		n, err := w.exec("UPDATE token SET name = ?, role = ?, scope = ?, revoked_at = ?, last_used = ? WHERE id = ?",
			t.Name, string(t.Role), scopeText(t.Scope), instant(t.RevokedAt), day(t.LastUsed), t.ID)
		if err == nil && n == 0 {
			return notFound("token")
		}
		if err != nil {
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
	return w.step("touch token", "", func() error {
		n, err := w.exec("UPDATE token SET last_used = ? WHERE id = ?", day(used), id)
		if err == nil && n == 0 {
			return notFound("token")
		}
		return err
	})
}
