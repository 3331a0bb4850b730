package main

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
)

// TestPowerCut records what a server that 17 clients write to asks of the file system, from the first byte of its file
// on, and cuts the power at moments in between. What a file was synced with is there. Of what came after, each write is
// there, is not, or is in part, in whatever order, and names are as they were at some moment since their folder was
// synced. Each such database opens, is served, verifies, and holds all that was acknowledged by then, once and whole.
func TestPowerCut(t *testing.T) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		require.NotEqual(t, "1", os.Getenv("STOWKEEPER_NO_SKIP"), "install strace, which sees what is written when")
		t.Skip("no strace, which sees what is written when")
	}
	cuts, writes := 30, 60
	switch {
	case inventorytest.Long:
		cuts, writes = 2000, 400
	case raced:
		cuts = 6
	}
	folder := t.TempDir()
	db := filepath.Join(folder, "stowkeeper.db")
	var traces []string
	traced := func(args ...string) []string {
		traces = append(traces, filepath.Join(t.TempDir(), "trace"))
		return append([]string{"-D", "-f", "--seccomp-bpf", "-y", "-xx", "-s", "100000", "-o", traces[len(traces)-1], "-e",
			"trace=pwrite64,write,fsync,fdatasync,ftruncate,unlink,unlinkat,rename,renameat,renameat2,openat,open",
			demoBinary(t)}, args...)
	}
	beginAs(t, strace, servesLine, traced("serve", "--db", db, "--listen", "127.0.0.1:0")...).stop() // makes it
	create := command(t.Context(), "1", traced("token", "create", "--db", db, "--role", "administrator", "--name",
		"cut")...)
	create.Path = strace
	token, err := create.Output()
	require.NoError(t, err)
	p := beginAs(t, strace, servesLine, traced("serve", "--db", db, "--listen", "127.0.0.1:0")...)
	w := newWriters(t, strings.TrimSpace(string(token)))
	w.setUp(newClient(t, p, w.token))
	w.write()
	w.awaitWrites(writes)
	w.finish()
	p.stop()
	for _, trace := range traces {
		eventually(t, "the trace is written", func() bool {
			text, err := os.ReadFile(trace)
			return err == nil && strings.Count(string(text[max(len(text)-5000, 0):]), "+++ exited with 0 +++") > 0
		})
	}

	d := &disk{TB: t, folder: folder, dice: rand.New(rand.NewPCG(11, uint64(cuts))), names: map[string]*inode{},
		calls: map[string]string{}, lasting: map[string]*inode{}, acknowledged: map[string]bool{}, requests: w.requests}
	length := d.replay(traces, func(n int) {
		if d.turned {
			d.turns, d.turned = append(d.turns, n), false
		}
	})
	at := map[int]int{}
	for i := range cuts {
		n := 1 + d.dice.IntN(length)
		if i%2 == 0 {
			n = min(d.turns[d.dice.IntN(len(d.turns))]+d.dice.IntN(6), length)
		}
		at[n]++
	}
	d.reset()
	var most, kept int
	d.replay(traces, func(n int) {
		for range at[n] {
			image := t.TempDir()
			d.cut(image)
			kept += w.lookAtImage(d, filepath.Join(image, "stowkeeper.db"), n)
			require.NoError(t, os.RemoveAll(image))
		}
		most = max(most, len(d.acknowledged))
	})
	require.False(t, t.Failed())
	assert.Equal(t, len(w.done), most, "all acknowledgements are seen")
	if cuts >= 30 { // of fewer, none may have torn one
		assert.Positive(t, d.torn)
	}
	t.Logf("the power was cut %d times, between %d calls; %d writes were lost and %d torn; %d writes were acknowledged, "+
		"and looked for %d times", cuts, length, d.lost, d.torn, most, kept)
}

// lookAtImage opens a database as it was after the power was cut, and returns how many acknowledged writes are there.
func (w *writers) lookAtImage(d *disk, db string, at int) int {
	w.Helper()
	s, err := store.Open(w.Context(), db, store.Options{Logger: quiet(streams{err: os.Stderr}), Tell: func(string) {}})
	if !assert.NoError(w, err, "cut at %d", at) {
		return 0
	}
	defer s.Close()
	svc, err := newServices(s, services.Options{})
	require.NoError(w, err)
	assert.NoError(w, sameAsServed(w.Context(), svc, db), "cut at %d", at)
	if heads, err := readHeads(headsFile(db)); !errors.Is(err, os.ErrNotExist) {
		assert.NotEmpty(w, heads, "cut at %d: the heads beside the file are gone, %v", at, err)
	}
	r, err := svc.Verify.Verify(w.Context())
	require.NoError(w, err)
	assert.Empty(w, r.Faults, "cut at %d", at)
	there := map[string]int{}
	plain := openPlainly(w, db)
	defer plain.Close()
	rows, err := plain.Query("SELECT reference, count(*) FROM movement WHERE reference <> '' GROUP BY 1 UNION ALL " +
		"SELECT note, -count(*) FROM restock WHERE note <> '' GROUP BY 1")
	require.NoError(w, err)
	defer rows.Close()
	for rows.Next() {
		var ref string
		var n int
		require.NoError(w, rows.Scan(&ref, &n))
		there[ref] = n
	}
	require.NoError(w, rows.Err())
	for ref, n := range there {
		if strings.HasPrefix(ref, "transfer ") && n == 1 { // sent, and not received yet
			continue
		}
		assert.Equal(w, max(w.done[ref], 1), max(n, -n), "cut at %d, %s: doubled or half there", at, ref)
	}
	for ref := range d.acknowledged {
		if w.done[ref] > 0 { // others leave no movement that says so
			assert.Contains(w, there, ref, "cut at %d: lost", at)
		}
	}
	return len(d.acknowledged)
}

// disk is a folder as the program asked for it, and what of that would last.
type disk struct {
	testing.TB
	folder     string
	dice       *rand.Rand
	calls      map[string]string // by thread, those that have begun
	names      map[string]*inode
	lasting    map[string]*inode               // names, as the folder was synced last
	renamed    []func(names map[string]*inode) // since then
	lost, torn int
	turned     bool  // the last call was about names, or synced more than the log
	turns      []int // where that was

	requests     map[string]string // what was acknowledged, by the id of the request
	acknowledged map[string]bool
}

// inode is a file.
type inode struct {
	synced []byte
	since  []change
}

// change is a write; with no bytes it sets the length.
type change struct {
	at    int
	bytes []byte
}

func (d *disk) reset() {
	d.names, d.lasting, d.renamed, d.acknowledged = map[string]*inode{}, map[string]*inode{}, nil, map[string]bool{}
}

func (c change) apply(to []byte, from, until int) []byte {
	if c.bytes == nil {
		return append(to, make([]byte, max(c.at-len(to), 0))...)[:c.at]
	}
	to = append(to, make([]byte, max(c.at+until-len(to), 0))...)
	copy(to[c.at+from:], c.bytes[from:until])
	return to
}

// sync makes changes last, as many as there were when it was asked for.
func (f *inode) sync(n int) {
	for _, c := range f.since[:n] {
		f.synced = c.apply(f.synced, 0, len(c.bytes))
	}
	f.since = f.since[n:]
}

// cut writes the folder as it could be found after the power was cut.
func (d *disk) cut(into string) {
	names := map[string]*inode{}
	for name, f := range d.lasting {
		names[name] = f
	}
	for _, rename := range d.renamed[:d.dice.IntN(len(d.renamed)+1)] {
		rename(names)
	}
	sector := []int{512, 4096}[d.dice.IntN(2)]
	for name, f := range names {
		is := bytes.Clone(f.synced)
		fate := d.dice.IntN(3) // mostly lost, mostly there, torn
		for _, c := range f.since {
			switch {
			case fate == 0 && d.dice.IntN(4) > 0, fate == 2 && d.dice.IntN(3) == 0:
				d.lost++
			case fate == 2 && len(c.bytes) > sector:
				d.torn++
				for from := 0; from < len(c.bytes); {
					until := min(len(c.bytes), from+sector-(c.at+from)%sector)
					if d.dice.IntN(2) == 0 {
						is = c.apply(is, from, until)
					}
					from = until
				}
			default:
				is = c.apply(is, 0, len(c.bytes))
			}
		}
		require.NoError(d, os.WriteFile(filepath.Join(into, name), is, 0o600))
	}
}

var (
	callBegins = regexp.MustCompile(`^(\d+) +(\w+)\((.*)$`)
	callGoesOn = regexp.MustCompile(`^(\d+) +<\.\.\. \w+ resumed>(.*)$`)
	inHex      = regexp.MustCompile(`(?:\\x[0-9a-f]{2})+`)
	answerID   = regexp.MustCompile(`(?s)^HTTP/1\.1 20[01] .*?\r\nX-Request-Id: (\S+)\r\n`)
)

// replay does all that traces tell and says after each call how many there were.
func (d *disk) replay(traces []string, after func(n int)) (n int) {
	for _, trace := range traces {
		d.replayOne(trace, func() { n++; after(n) })
	}
	return n
}

func (d *disk) replayOne(trace string, after func()) {
	file, err := os.Open(trace)
	require.NoError(d, err)
	defer file.Close()
	began := map[string]int{} // how many changes a file had when its sync began, by thread
	lines := bufio.NewReaderSize(file, 1<<20)
	for {
		line, err := lines.ReadString('\n')
		if err != nil {
			return
		}
		line = strings.TrimSuffix(line, "\n")
		if m := callGoesOn.FindStringSubmatch(line); m != nil {
			line = d.calls[m[1]] + m[2]
		} else if m := callBegins.FindStringSubmatch(line); m != nil {
			d.begins(m[1], m[2], m[3], began)
		}
		m := callBegins.FindStringSubmatch(line)
		if whole, unfinished := strings.CutSuffix(line, " <unfinished ...>"); unfinished && m != nil {
			d.calls[m[1]] = whole
			continue
		}
		if m != nil && d.does(m[1], m[2], m[3], began) {
			after()
		}
	}
}

// begins notes what counts from when a call began.
func (d *disk) begins(thread, call, args string, began map[string]int) {
	switch call {
	case "fsync", "fdatasync":
		name, _ := d.nameOf(string(d.strings(args)[0]))
		began[thread] = len(d.renamed)
		if f := d.names[name]; f != nil {
			began[thread] = len(f.since)
		}
	case "write":
		if m := answerID.FindSubmatch(d.strings(args)[1]); m != nil && d.requests[string(m[1])] != "" {
			d.acknowledged[d.requests[string(m[1])]] = true
		}
	}
}

// does does a call that has ended, and tells whether it was about the folder.
func (d *disk) does(thread, call, args string, began map[string]int) bool {
	all := d.strings(args)
	var names []string
	for i, text := range all {
		if name, mine := d.nameOf(string(text)); mine && (i == 0 || strings.Contains(call, "at") || call == "rename") {
			names = append(names, name)
		}
	}
	i := strings.LastIndex(args, ") ")
	if i < 0 || len(names) == 0 || strings.Contains(args[i:], "= -1") {
		return false
	}
	name, numbers := names[0], strings.Split(args[:i], ", ")
	number := func(n int) int {
		v, _ := strconv.Atoi(numbers[n]) // others are not numbers
		return v
	}
	f := d.names[name]
	d.turned = d.turned || !strings.Contains(call, "write") && !strings.HasSuffix(name, "-wal")
	if f == nil && name != "" && !strings.HasPrefix(call, "open") { // it has no name any more
		return false
	}
	switch call {
	case "openat", "open":
		if f == nil && strings.Contains(args, "O_CREAT") {
			d.rename(func(names map[string]*inode, f *inode) { names[name] = f }, &inode{})
		} else if f != nil && strings.Contains(args, "O_TRUNC") {
			f.since = append(f.since, change{})
		} else {
			return false
		}
	case "pwrite64":
		f.since = append(f.since, change{number(3), all[1]})
	case "write":
		f.since = append(f.since, change{f.length(), all[1]})
	case "ftruncate":
		f.since = append(f.since, change{at: number(1)})
	case "fsync", "fdatasync":
		if name == "" {
			n := min(began[thread], len(d.renamed))
			for _, rename := range d.renamed[:n] {
				rename(d.lasting)
			}
			d.renamed = d.renamed[n:]
		} else {
			f.sync(min(began[thread], len(f.since)))
		}
	case "unlink", "unlinkat":
		d.rename(func(names map[string]*inode, _ *inode) { delete(names, name) }, nil)
	case "rename", "renameat", "renameat2":
		to := names[1]
		d.rename(func(names map[string]*inode, f *inode) { delete(names, name); names[to] = f }, f)
	}
	return true
}

func (d *disk) rename(does func(map[string]*inode, *inode), f *inode) {
	once := func(names map[string]*inode) { does(names, f) }
	once(d.names)
	d.renamed = append(d.renamed, once)
}

func (f *inode) length() int {
	n := len(f.synced)
	for _, c := range f.since {
		if n = max(n, c.at+len(c.bytes)); c.bytes == nil {
			n = c.at
		}
	}
	return n
}

// strings decodes the texts and paths among arguments.
func (d *disk) strings(args string) [][]byte {
	var out [][]byte
	for _, text := range inHex.FindAllString(args, -1) {
		b, err := hex.DecodeString(strings.ReplaceAll(text, `\x`, ""))
		require.NoError(d, err)
		out = append(out, b)
	}
	return append(out, nil, nil)
}

// nameOf is a file's name in the folder, empty for the folder itself; what SQLite shares in memory does not last.
func (d *disk) nameOf(path string) (name string, mine bool) {
	rest, found := strings.CutPrefix(path, d.folder)
	return strings.TrimPrefix(rest, "/"), found && !strings.HasSuffix(rest, "-shm")
}
