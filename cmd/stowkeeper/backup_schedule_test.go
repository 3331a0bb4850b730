package main

import (
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestBackupsAreKept lets two months pass, a backup an hour: the last of each of 24 hours, 7 days and 5 weeks stay, and
// one that was missed leaves no more than its own gap.
func TestBackupsAreKept(t *testing.T) {
	at := time.Date(2026, 1, 1, 0, 30, 0, 0, time.UTC)
	end := at.AddDate(0, 2, 0)
	var kept []time.Time
	for ; at.Before(end); at = at.Add(time.Hour) {
		kept = append(kept, at)
		for _, g := range superfluous(kept) {
			kept = slices.DeleteFunc(kept, g.Equal)
		}
	}
	last := at.Add(-time.Hour)
	hours, days, weeks := 0, map[string]bool{}, map[int]bool{}
	for _, k := range kept {
		if last.Sub(k) < 24*time.Hour {
			hours++
		}
		if last.Sub(k) < 6*24*time.Hour {
			days[k.Format(time.DateOnly)] = true
		}
		_, week := k.ISOWeek()
		weeks[week] = true
	}
	assert.Equal(t, 24, hours)
	assert.GreaterOrEqual(t, len(days), 6)
	assert.Len(t, weeks, 5)
	assert.LessOrEqual(t, len(kept), 24+7+5)
	assert.Empty(t, superfluous(nil))
}

// TestBackupByTheHour: a backup is taken where the newest is an hour old, others' files stay, and it restores.
func TestBackupByTheHour(t *testing.T) {
	folder := t.TempDir()
	foreign := filepath.Join(folder, "letter.txt")
	require.NoError(t, os.WriteFile(foreign, nil, 0o600))
	b := backup{db: smallDatabase(t)}
	old := filepath.Join(folder, b.name(clock().Time().Add(-2*time.Hour)))
	require.NoError(t, os.WriteFile(old, nil, 0o600))
	p := &program{log: slog.New(slog.DiscardHandler)}
	p.backups = true
	assert.True(t, p.backupOverdue())
	for range 2 { // the second time there is a new one
		wait, err := p.backUp(t.Context(), streams{err: os.Stderr}, b, folder)
		require.NoError(t, err)
		assert.InDelta(t, backupEvery, wait, float64(time.Minute))
	}
	assert.False(t, p.backupOverdue())
	assert.Contains(t, p.backupAge(), "newest backup: ")
	_, err := (&program{log: p.log}).backUp(t.Context(), streams{err: os.Stderr}, b, filepath.Join(folder, "none"))
	require.Error(t, err)
	taken, err := b.inFolder(folder)
	require.NoError(t, err)
	require.Len(t, taken, 2)
	assert.FileExists(t, foreign)
	last := newest(taken)
	assert.Less(t, time.Since(last), time.Minute)
	assert.Equal(t, last, *p.backedUp.Load())
	assert.Contains(t, succeed(t, "restore", "--db", filepath.Join(folder, "x.db"), taken[last]), "0 faults")
}
