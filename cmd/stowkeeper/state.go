package main

import (
	"os"
	"path/filepath"
	"runtime/debug"

	"stowkeeper/inventory"
	"stowkeeper/inventory/store"
	"stowkeeper/web"
)

// littleRoom is how many bytes should be free in any case.
const littleRoom = 1 << 30

// state is how the program and its database are.
func (p *program) state() web.ServiceState {
	s := web.ServiceState{Version: versionText(debug.ReadBuildInfo()), Database: p.svc.Store.Engine(), Backups: p.backups,
		BackupOverdue: p.backupOverdue()}
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
	for _, part := range []string{"", "-wal"} {
		if info, err := os.Stat(p.db + part); err == nil {
			s.Size += info.Size()
		}
	}
	s.Free = freeIn(filepath.Dir(p.db))
	s.LittleRoom = s.Free > 0 && s.Free < max(s.Size, littleRoom) // a backup needs as much again
	return s
}
