package main

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"filippo.io/age"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/inventorytest"
)

// TestBackupWhileServed takes backups while 17 clients write. Each restores and verifies, holds a prefix of each chain,
// and all that was acknowledged before it began.
func TestBackupWhileServed(t *testing.T) {
	taken := map[bool]int{false: 8, true: 100}[inventorytest.Long]
	db := smallDatabase(t)
	token := newToken(t, db, "quartermaster", "writer")
	p := serve(t, db)
	over, acknowledged := make(chan struct{}), atomic.Int64{}
	var writers sync.WaitGroup
	for w := range 16 {
		writers.Go(func() {
			c := newClient(t, p, token)
			for n := 0; ; n++ {
				select {
				case <-over:
					return
				default:
				}
				a, err := c.send("POST", "/api/v1/receipts", fields{"place": "N1-STORE", "item": "GAUZE",
					"batch_no": fmt.Sprintf("W%d", w), "qty": 1}, "Idempotency-Key", fmt.Sprintf("%d-%d", w, n))
				if assert.NoError(t, err) && assert.Equal(t, 201, a.status, "%s", a.body) {
					acknowledged.Add(1)
				}
			}
		})
	}
	folder := t.TempDir()
	var least []int64
	var files []string
	for i := range taken {
		least = append(least, acknowledged.Load())
		files = append(files, filepath.Join(folder, fmt.Sprintf("%d.db.gz", i)))
		succeed(t, "backup", "--db", db, files[i])
	}
	close(over)
	writers.Wait()
	p.stop()
	ends := openPlainly(t, db)
	defer ends.Close()
	for i, file := range files {
		restored := filepath.Join(folder, fmt.Sprintf("%d.db", i))
		assert.Contains(t, succeed(t, "restore", "--db", restored, file), "0 faults")
		kept, err := readHeads(headsFile(restored))
		require.NoError(t, err)
		for _, h := range kept {
			var hash string
			require.NoError(t, ends.QueryRow("SELECT hash FROM history_entry WHERE chain = ? AND seq = ?", h.Station, h.Seq).
				Scan(&hash))
			assert.Equal(t, hash, h.Hash, "backup %d, chain %s", i, h.ChainName())
		}
		copied := openPlainly(t, restored)
		var receipts int64
		require.NoError(t, copied.QueryRow("SELECT count(*) FROM movement m JOIN lot l ON l.id = m.lot_id "+
			"JOIN batch b ON b.id = l.batch_id WHERE b.batch_no LIKE 'W%'").Scan(&receipts))
		require.NoError(t, copied.Close())
		assert.GreaterOrEqual(t, receipts, least[i], "backup %d", i)
	}
	assert.Greater(t, acknowledged.Load(), int64(taken), "they wrote meanwhile")
}

// TestBackupIsWholeOrNone: a byte changed anywhere, a part cut off, another key or a database that is there are all
// refused, and nothing is left behind; with the right key it comes back.
func TestBackupIsWholeOrNone(t *testing.T) {
	db, folder := smallDatabase(t), t.TempDir()
	key, err := age.GenerateX25519Identity()
	require.NoError(t, err)
	other, err := age.GenerateX25519Identity()
	require.NoError(t, err)
	file := func(name, text string) string {
		t.Helper()
		path := filepath.Join(folder, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	own, wrong := file("own.txt", key.String()+"\n"), file("wrong.txt", other.String()+"\n")
	succeed(t, "backup", "--db", db, folder)
	succeed(t, "backup", "--db", db, "--encrypt-to", key.Recipient().String(), folder)
	all, err := filepath.Glob(filepath.Join(folder, "stowkeeper-*"))
	require.NoError(t, err)
	require.Len(t, all, 2)
	plain, sealed := all[0], all[1]
	require.True(t, strings.HasSuffix(sealed, ".db.gz.age"), sealed)
	at := filepath.Join(t.TempDir(), "again.db")
	refused := func(says string, args ...string) {
		t.Helper()
		o := stowkeeper(t, append([]string{"restore", "--db", at}, args...)...)
		assert.Equal(t, 1, o.code, "%v: %s", args, o.out)
		assert.Contains(t, o.err, says, "%v", args)
		left, err := os.ReadDir(filepath.Dir(at))
		require.NoError(t, err)
		assert.Empty(t, left, "%v", args)
	}
	dice := rand.New(rand.NewPCG(3, 3))
	for _, backup := range all {
		text, err := os.ReadFile(backup)
		require.NoError(t, err)
		for n := range map[bool]int{false: 24, true: 400}[inventorytest.Long] {
			i := n
			if n >= 12 {
				i = dice.IntN(len(text))
			}
			changed := bytes.Clone(text)
			changed[i] ^= 1
			refused("", "--identity", own, file("changed", string(changed)))
		}
		refused("", "--identity", own, file("cut", string(text[:len(text)-1])))
		refused("", "--identity", own, file("cut", string(text[:len(text)/2])))
	}
	refused("--identity: the backup is encrypted", sealed)
	refused("not the key of this backup", "--identity", wrong, sealed)
	refused("<backup>: no such file", filepath.Join(folder, "nothing"))
	assert.Contains(t, stowkeeper(t, "backup", "--db", db, "--encrypt-to", "age1nothing", folder).err, "--encrypt-to: ")
	assert.Contains(t, stowkeeper(t, "backup", "--db", db, plain).err, "<out>: choose a new file")

	assert.Contains(t, succeed(t, "restore", "--db", at, "--identity", own, sealed), "0 faults")
	succeed(t, "verify", "--db", at)
	assert.Contains(t, stowkeeper(t, "restore", "--db", at, plain).err, "nothing is overwritten")
	require.NoError(t, os.Rename(at, at+".away"))
	require.NoError(t, os.WriteFile(at+"-wal", nil, 0o600))
	assert.Contains(t, stowkeeper(t, "restore", "--db", at, plain).err, "-wal is there")
}

// TestOlderFileIsNotServed: a copy that lost its newest records, as one made without the log beside it, is not served
// as if it were whole; a restore says what was recorded after the backup.
func TestOlderFileIsNotServed(t *testing.T) {
	db, folder := smallDatabase(t), t.TempDir()
	backup := filepath.Join(folder, "b.db.gz")
	succeed(t, "backup", "--db", db, backup)
	p := serve(t, db)
	newClient(t, p, newToken(t, db, "quartermaster", "writer")).post("/receipts", fields{"place": "N1-STORE",
		"item": "GAUZE", "qty": 3})
	p.stop()
	kept, err := readHeads(headsFile(db))
	require.NoError(t, err)
	assert.Contains(t, fmt.Sprint(kept), "N1")

	moved := filepath.Join(folder, "moved")
	require.NoError(t, os.Rename(db, moved))
	said := succeed(t, "restore", "--db", db, backup)
	assert.Contains(t, said, "recorded after the backup, and not in it: 1 entries of chain N1")
	p = serve(t, db)
	p.stop()

	require.NoError(t, writeHeads(headsFile(db), kept))
	o := stowkeeper(t, "serve", "--db", db, "--listen", "127.0.0.1:0")
	assert.Equal(t, 1, o.code)
	assert.Contains(t, o.err, "lacks what was recorded in it before (")
	assert.Contains(t, o.err, "1 entries of chain N1")
	assert.Equal(t, []string{}, missing(kept, kept))
	assert.Equal(t, []string{"2 entries of chain service"}, missing(nil, []inventory.Head{{Seq: 2}}))
}
