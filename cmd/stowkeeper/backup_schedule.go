package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
)

// Of backups taken by the hour the last of each of so many hours, days and weeks are kept.
const (
	keepHours   = 24
	keepDays    = 7
	keepWeeks   = 5
	backupEvery = time.Hour
	backupAgain = 10 * time.Minute // after one that failed
	backupIsOld = 3 * backupEvery
)

// superfluous returns which backups may go, of those taken at some times: UTC hours, days and ISO weeks count.
func superfluous(taken []time.Time) []time.Time {
	newestFirst := slices.SortedFunc(slices.Values(taken), func(a, b time.Time) int { return b.Compare(a) })
	periods := []struct {
		keep int
		of   func(time.Time) string
		seen map[string]bool
	}{
		{keepHours, func(t time.Time) string { return t.Format("2006-01-02 15") }, map[string]bool{}},
		{keepDays, func(t time.Time) string { return t.Format(time.DateOnly) }, map[string]bool{}},
		{keepWeeks, func(t time.Time) string { y, w := t.ISOWeek(); return fmt.Sprint(y, w) }, map[string]bool{}},
	}
	var out []time.Time
	for _, t := range newestFirst {
		keep := false
		for _, p := range periods {
			if is := p.of(t.UTC()); !p.seen[is] && len(p.seen) < p.keep {
				p.seen[is], keep = true, true
			}
		}
		if !keep {
			out = append(out, t)
		}
	}
	return out
}

// mayGoTo refuses at start what would fail each hour.
func (b backup) mayGoTo(folder string) error {
	if store.IsPostgres(b.db) {
		return inventory.InvalidField("backup_folder", "for SQLite only: PostgreSQL is copied by pg_dump")
	}
	if info, err := os.Stat(folder); err != nil || !info.IsDir() {
		return inventory.InvalidField("backup_folder", "no such folder: check the path")
	}
	if _, err := b.recipient(); err != nil {
		return inventory.AsField(err, "backup_encrypt_to", "give a public key as age-keygen prints it: age1…")
	}
	return nil
}

// inFolder lists the backups of a folder, by when they were taken.
func (b backup) inFolder(folder string) (map[time.Time]string, error) {
	entries, err := os.ReadDir(folder)
	out := map[time.Time]string{}
	for _, e := range entries {
		if t, err := time.Parse(nameOfBackup, strings.TrimSuffix(e.Name(), ".age")); err == nil {
			out[t] = filepath.Join(folder, e.Name())
		}
	}
	return out, err
}

// newest is when the newest backup of a folder was taken; the zero time for never.
func newest(taken map[time.Time]string) (last time.Time) {
	for t := range taken {
		if t.After(last) {
			last = t
		}
	}
	return last
}

// keepBackups takes a backup each hour and lets go of those that are superfluous. It does so until ctx ends.
func (p *program) keepBackups(ctx context.Context, std streams, b backup, folder string) {
	for ctx.Err() == nil {
		wait, err := p.backUp(ctx, std, b, folder)
		if err != nil && ctx.Err() == nil {
			p.log.Error("no backup taken", "error", err)
		}
		select {
		case <-time.After(wait):
		case <-ctx.Done():
		}
	}
}

// backUp takes a backup where one is due, and says how long to wait for the next.
func (p *program) backUp(ctx context.Context, std streams, b backup, folder string) (wait time.Duration, err error) {
	taken, err := b.inFolder(folder)
	if err != nil {
		return backupAgain, err
	}
	last, now := newest(taken), clock().Time().UTC().Truncate(time.Second)
	p.backedUp.Store(&last)
	if left := backupEvery - now.Sub(last); left > 0 {
		return left, nil
	}
	name := filepath.Join(folder, b.name(now))
	what, err := b.toFile(ctx, std, name)
	if err != nil {
		return backupAgain, err
	}
	p.log.Info("backup taken", "file", name, "what", what)
	taken[now] = name
	p.backedUp.Store(&now)
	for _, t := range superfluous(slices.Collect(maps.Keys(taken))) {
		err = errors.Join(err, os.Remove(taken[t]))
	}
	return backupEvery, err
}

// backupOverdue tells whether backups are taken by the hour and none was for a while.
func (p *program) backupOverdue() bool {
	last := p.backedUp.Load()
	return p.backups && (last == nil || time.Since(*last) > backupIsOld)
}
