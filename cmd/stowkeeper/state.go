package main

import (
	"os"
	"path/filepath"
	"runtime/debug"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
	"stowkeeper/web"
)

// littleRoom tells whether more should be free: a backup needs as much again as the database, and a gigabyte is little.
func littleRoom(size, free int64) bool { return free > 0 && free < max(size, 1<<30) }

// room is how many bytes a database file has with its log, and how many are free beside it, 0 where that is not known.
func room(db string) (size, free int64) {
	for _, part := range []string{"", "-wal"} {
		if info, err := os.Stat(db + part); err == nil {
			size += info.Size()
		}
	}
	return size, freeIn(filepath.Dir(db))
}

// state is how the program and its database are.
func (p *program) state() web.ServiceState {
	s := web.ServiceState{Version: versionText(debug.ReadBuildInfo()), Database: p.svc.Store.Engine(), Backups: p.backups,
		BackupOverdue: p.backupOverdue()}
	p.metrics.count(func() { s.Waiting = p.metrics.queued })
	if last := p.probed.Load(); last != nil {
		s.Wrote, s.Trouble = inventory.InstantOf(last.began), last.err
	}
	if at := p.backedUp.Load(); at != nil && !at.IsZero() {
		s.BackedUp = inventory.InstantOf(*at)
	}
	if p.db == "" || store.IsPostgres(p.db) {
		return s
	}
	s.Database = p.db
	if info, err := os.Stat(verifiedFile(p.db)); err == nil {
		s.Verified = inventory.InstantOf(info.ModTime())
	}
	s.Size, s.Free = room(p.db)
	s.LittleRoom = littleRoom(s.Size, s.Free)
	return s
}
