// Package upload keeps files that wait to be imported, in the database, so that any copy of the program goes on with
// them.
package upload

import (
	"cmp"
	"context"
	"database/sql"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
	"stowkeeper/inventory/store/migrations"
)

// partSize is how many bytes are written at once: nobody waits long for them.
const partSize = 1 << 20

type files struct{ store inventory.Store }

// In keeps uploads in a store.
func In(s inventory.Store) inventory.Uploads { return files{s} }

// tx is the transaction of a unit of work or snapshot, with an engine's marks.
type tx struct {
	*sql.Tx
	ctx    context.Context
	engine string
}

func (t tx) text(text string) string {
	for n := 1; t.engine == migrations.Postgres && strings.Contains(text, "?"); n++ {
		text = strings.Replace(text, "?", "$"+strconv.Itoa(n), 1)
	}
	return text
}

func (t tx) do(text string, args ...any) (int64, error) {
	done, err := t.ExecContext(t.ctx, t.text(text), args...)
	if err != nil {
		return 0, err
	}
	return done.RowsAffected()
}

func (f files) write(ctx context.Context, fn func(tx) error) error {
	return f.store.Write(ctx, func(ctx context.Context, _ inventory.Writer) error {
		return fn(tx{store.Tx(ctx), ctx, f.store.Engine()})
	})
}

func busy() error { return inventory.Refuse(inventory.Conflict, "Busy. Try again in a minute.") }

// Keep keeps a file a part at a time. Until all are there it is told of, so that nobody takes it.
func (f files) Keep(ctx context.Context, u inventory.Upload, file []byte, before, silent inventory.Instant,
	most int) error {
	err := f.write(ctx, func(t tx) error {
		if _, err := t.do("DELETE FROM upload WHERE kept_at < ? AND heard_at < ?", before, silent); err != nil {
			return err
		}
		if _, err := t.do("DELETE FROM upload WHERE heard_at < ? AND code NOT IN "+
			"(SELECT code FROM upload ORDER BY kept_at DESC, code LIMIT ?)", silent, most-1); err != nil {
			return err
		}
		kept := 0
		err := t.QueryRowContext(ctx, "SELECT count(*) FROM upload").Scan(&kept)
		if err == nil && kept >= most {
			err = busy()
		}
		if err == nil {
			_, err = t.do("INSERT INTO upload (code, owner, kept_at, heard_at, state) VALUES (?, ?, ?, ?, ?)", u.Code, u.Owner,
				u.KeptAt, u.KeptAt, u.State)
		}
		return err
	})
	for seq := 1; err == nil && len(file) > 0; seq++ {
		part := file[:min(partSize, len(file))]
		file = file[len(part):]
		err = f.write(ctx, func(t tx) error {
			_, err := t.do("INSERT INTO upload_part (upload, seq, body) VALUES (?, ?, ?)", u.Code, seq, part)
			return err
		})
	}
	if err == nil {
		err = f.Tell(ctx, u, u.KeptAt)
	}
	return err
}

func (f files) Upload(ctx context.Context, code string) (inventory.Upload, error) {
	all, err := f.All(ctx) // a few
	for _, u := range all {
		if u.Code == code {
			return u, nil
		}
	}
	return inventory.Upload{}, cmp.Or(err,
		inventory.Refuse(inventory.NotFound, "This file is no longer kept. Upload it again."))
}

func (f files) All(ctx context.Context) (all []inventory.Upload, err error) {
	err = f.store.Read(ctx, func(ctx context.Context, _ inventory.Reader) error {
		rows, err := store.Tx(ctx).QueryContext(ctx,
			"SELECT code, owner, kept_at, heard_at, state FROM upload ORDER BY kept_at, code")
		if err != nil {
			return err
		}
		defer rows.Close()
		for all = nil; rows.Next(); {
			var u inventory.Upload
			if err := rows.Scan(&u.Code, &u.Owner, &u.KeptAt, &u.HeardAt, &u.State); err != nil {
				return err
			}
			all = append(all, u)
		}
		return rows.Err()
	})
	return all, err
}

func (f files) Take(ctx context.Context, u inventory.Upload, silent inventory.Instant) (file []byte, err error) {
	err = f.write(ctx, func(t tx) error {
		n, err := t.do("UPDATE upload SET heard_at = ?, state = ? WHERE code = ? AND heard_at < ?", u.HeardAt, u.State,
			u.Code, silent)
		if err == nil && n == 0 {
			err = busy()
		}
		return err
	})
	if err != nil {
		return nil, err
	}
	err = f.store.Read(ctx, func(ctx context.Context, _ inventory.Reader) error {
		t := tx{store.Tx(ctx), ctx, f.store.Engine()}
		rows, err := t.QueryContext(ctx, t.text("SELECT body FROM upload_part WHERE upload = ? ORDER BY seq"), u.Code)
		if err != nil {
			return err
		}
		defer rows.Close()
		for file = nil; rows.Next(); {
			var part sql.RawBytes
			if err := rows.Scan(&part); err != nil {
				return err
			}
			file = append(file, part...)
		}
		return rows.Err()
	})
	return file, err
}

// stopAsked is when a file was heard of whose reader is to stop.
const stopAsked = 1

func (f files) Tell(ctx context.Context, u inventory.Upload, was inventory.Instant) error {
	return f.write(ctx, func(t tx) error {
		text := "UPDATE upload SET heard_at = ?, state = ? WHERE code = ? AND heard_at IN (?, ?)"
		if u.HeardAt != 0 {
			text = strings.Replace(text, "(?, ?)", "(?) AND heard_at <> ?", 1)
		}
		n, err := t.do(text, u.HeardAt, u.State, u.Code, was, stopAsked)
		if err == nil && n == 0 {
			err = busy()
		}
		return err
	})
}

func (f files) Stop(ctx context.Context, code string) error {
	return f.write(ctx, func(t tx) error {
		_, err := t.do("UPDATE upload SET heard_at = ? WHERE code = ? AND heard_at <> 0", stopAsked, code)
		return err
	})
}
