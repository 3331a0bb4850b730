//go:build unix

package main

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory/inventorytest"
	"stowkeeper/labels/labelstest"
)

// cluster is two PostgreSQL servers under Patroni, with etcd, which says who leads, and HAProxy, which leads there.
type cluster struct {
	*testing.T
	folder string
	port   map[string]string // by what the files of testdata/failover call it
	nodes  map[string]*exec.Cmd
	log    *os.File
}

var nodeNames = []string{"one", "two"}

func newCluster(t *testing.T) *cluster {
	etcd, haproxy := labelstest.Tool(t, "etcd"), ""
	labelstest.Tool(t, "patroni")
	if found, err := exec.LookPath("/usr/sbin/haproxy"); err == nil { // which is no folder of a user's
		haproxy = found
	} else {
		haproxy = labelstest.Tool(t, "haproxy")
	}
	bins, err := filepath.Glob("/usr/lib/postgresql/*/bin")
	require.NoError(t, err)
	if len(bins) == 0 && os.Getenv("STOWKEEPER_NO_SKIP") != "1" {
		t.Skip("PostgreSQL is not where Debian has it")
	}
	require.NotEmpty(t, bins)
	c := &cluster{T: t, port: map[string]string{"BIN": bins[len(bins)-1]}, nodes: map[string]*exec.Cmd{}}
	c.folder, err = os.MkdirTemp("", "stowkeeper-failover")
	require.NoError(t, err)
	require.NoError(t, os.Chmod(c.folder, 0o755))
	c.port["FOLDER"] = c.folder
	for _, name := range []string{"ETCD", "PEER", "HAPROXY", "POSTGRES_ONE", "POSTGRES_TWO", "REST_ONE", "REST_TWO"} {
		c.port[name] = freePort(t)
	}
	c.log, err = os.Create(filepath.Join(c.folder, "log"))
	require.NoError(t, err)
	if id := c.owner(); id != nil {
		require.NoError(t, os.Chown(c.folder, int(id.Uid), int(id.Gid)))
	}
	t.Cleanup(c.clear)
	client, peer := "http://127.0.0.1:"+c.port["ETCD"], "http://127.0.0.1:"+c.port["PEER"]
	c.run(etcd, "--data-dir", filepath.Join(c.folder, "etcd"), "--listen-client-urls", client,
		"--advertise-client-urls", client, "--listen-peer-urls", peer, "--initial-advertise-peer-urls", peer,
		"--initial-cluster", "default="+peer, "--unsafe-no-fsync")
	c.run(haproxy, "-db", "-f", c.file("haproxy.cfg", "haproxy.cfg", nil))
	for _, name := range nodeNames {
		c.node(name)
	}
	c.awaitWhole()
	return c
}

// owner is as whom it all runs where the tests run as root, which PostgreSQL refuses.
func (c *cluster) owner() *syscall.Credential {
	if os.Getuid() != 0 {
		return nil
	}
	u, err := user.Lookup("postgres")
	require.NoError(c, err)
	uid, err := strconv.Atoi(u.Uid)
	require.NoError(c, err)
	gid, err := strconv.Atoi(u.Gid)
	require.NoError(c, err)
	return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
}

func (c *cluster) run(args ...string) *exec.Cmd {
	c.Helper()
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Dir, cmd.Env = c.folder, append(os.Environ(), "HOME="+c.folder)
	cmd.Stdout, cmd.Stderr = c.log, c.log
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: c.owner()}
	require.NoError(c, cmd.Start())
	c.Cleanup(func() { kill(cmd) })
	return cmd
}

func kill(cmd *exec.Cmd) {
	_ = cmd.Process.Kill() // it may be gone
	_, _ = cmd.Process.Wait()
}

// file fills a file of testdata/failover in.
func (c *cluster) file(from, to string, own map[string]string) string {
	c.Helper()
	text, err := os.ReadFile(filepath.Join(root, "testdata", "failover", from))
	require.NoError(c, err)
	to = filepath.Join(c.folder, to)
	filled := os.Expand(string(text), func(name string) string {
		if v, ok := own[name]; ok {
			return v
		}
		require.Contains(c, c.port, name)
		return c.port[name]
	})
	require.NoError(c, os.WriteFile(to, []byte(filled), 0o644))
	return to
}

func (c *cluster) node(name string) {
	c.Helper()
	upper := strings.ToUpper(name)
	c.nodes[name] = c.run("patroni", c.file("patroni.yml", name+".yml", map[string]string{"NAME": name,
		"POSTGRES": c.port["POSTGRES_"+upper], "REST": c.port["REST_"+upper]}))
}

// clear ends the servers too, which outlive Patroni.
func (c *cluster) clear() {
	for _, name := range nodeNames {
		kill(c.nodes[name])
		if pid := c.postmaster(name); pid > 0 {
			_ = syscall.Kill(pid, syscall.SIGQUIT)
		}
	}
	if c.Failed() {
		text, _ := os.ReadFile(c.log.Name())
		c.Logf("%s", text[max(0, len(text)-6000):])
	}
	require.NoError(c, c.log.Close())
	for range 100 {
		if err := os.RemoveAll(c.folder); err == nil {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
}

func (c *cluster) postmaster(name string) int {
	text, err := os.ReadFile(filepath.Join(c.folder, name, "postmaster.pid"))
	if err != nil {
		return 0
	}
	first, _, _ := strings.Cut(string(text), "\n")
	pid, _ := strconv.Atoi(first)
	return pid
}

// is tells what Patroni says a server is: primary, or sync for the standby that is waited for.
func (c *cluster) is(name, what string) bool {
	res, err := http.Get("http://127.0.0.1:" + c.port["REST_"+strings.ToUpper(name)] + "/" + what)
	if err != nil {
		return false
	}
	defer res.Body.Close()
	_, _ = io.Copy(io.Discard, res.Body)
	return res.StatusCode == http.StatusOK
}

// awaitWhole waits until one server leads and the other one has all that it has, and says who leads.
func (c *cluster) awaitWhole() (leads string) {
	c.Helper()
	eventually(c, "a leader and a standby are there", func() bool {
		time.Sleep(100 * time.Millisecond)
		for i, name := range nodeNames {
			if c.is(name, "primary") && c.is(nodeNames[1-i], "sync") {
				leads = name
				return true
			}
		}
		return false
	})
	return leads
}

// address is where a database is: by HAProxy, or at either of the two servers.
func (c *cluster) address(database string, proxied bool) string {
	host := "127.0.0.1:" + c.port["POSTGRES_ONE"] + ",127.0.0.1:" + c.port["POSTGRES_TWO"]
	if proxied {
		host = "127.0.0.1:" + c.port["HAPROXY"]
	}
	return "postgres://postgres@" + host + "/" + database + "?sslmode=disable"
}

// killPrimary kills the server that leads with SIGKILL, and with it, where the whole machine goes, its Patroni, which
// comes back later.
func (c *cluster) killPrimary(machine bool) {
	c.Helper()
	leads := c.awaitWhole()
	if machine {
		kill(c.nodes[leads])
	}
	require.NoError(c, syscall.Kill(c.postmaster(leads), syscall.SIGKILL))
	if machine {
		eventually(c, "the other one leads", func() bool {
			time.Sleep(100 * time.Millisecond)
			return slices.ContainsFunc(nodeNames, func(name string) bool { return name != leads && c.is(name, "primary") })
		})
		c.node(leads)
	}
}

// TestFailover kills the PostgreSQL server that leads, again and again, while clients write through two copies of the
// program, one by way of HAProxy and one with both addresses. What was acknowledged is there, once; what was not is
// there once or not at all; and the interruptions are short.
func TestFailover(t *testing.T) {
	kills := 5
	if inventorytest.Long {
		kills = 20
	}
	pg := newCluster(t)
	admin, err := sql.Open("pgx", pg.address("postgres", true))
	require.NoError(t, err)
	eventually(t, "the proxy leads somewhere", func() bool {
		time.Sleep(100 * time.Millisecond)
		_, err := admin.ExecContext(context.Background(), "CREATE DATABASE stowkeeper TEMPLATE template0")
		return err == nil
	})
	require.NoError(t, admin.Close())
	c := newCopies(t, pg.address("stowkeeper", true), pg.address("stowkeeper", false))
	c.stock()

	var over atomic.Bool
	var driver sync.WaitGroup
	driver.Go(func() {
		c.drive(8, over.Load, func(_ *rand.Rand, client, n int) error {
			ref := fmt.Sprintf("receipt-%d-%d", client, n)
			_, err := c.write(ref, "/receipts", fields{"place": "N1-STORE", "item": "GAUZE", "qty": 1, "reference": ref,
				"batch_no": fmt.Sprint("R", client%2), "end_printed": "2199-01"})
			time.Sleep(20 * time.Millisecond)
			return err
		})
	})
	var gaps, machines []time.Duration
	for round := range kills {
		machine := round%5 == 4
		before, began := len(c.since(time.Time{})), time.Now()
		pg.killPrimary(machine)
		eventually(t, "writes are acknowledged again", func() bool {
			time.Sleep(50 * time.Millisecond)
			return t.Failed() || len(c.since(time.Time{})) > before && len(c.since(time.Now().Add(-time.Second))) > 10
		})
		pg.awaitWhole()
		gap := longest(append([]time.Time{began}, c.since(began)...))
		if gaps = append(gaps, gap); machine {
			machines = append(machines, gap)
		}
	}
	over.Store(true)
	driver.Wait()
	slices.Sort(gaps)
	t.Logf("%d kills: interruptions of median %v, at most %v; %v where the machine went; %d writes acknowledged, %d sent "+
		"again, %d of them in doubt", kills, gaps[len(gaps)/2], gaps[len(gaps)-1], machines, len(c.acked), c.away, c.doubts)
	assert.Greater(t, len(c.acked), 10*kills)
	assert.Less(t, gaps[len(gaps)/2], 15*time.Second)

	eventually(t, "both copies answer", func() bool { return c.clients[0].ready() && c.clients[1].ready() })
	there := c.noted(c.one(), "/movements?station=N1", func(n noted) string { return n.Reference })
	c.exactly("receipt", there)
	for _, s := range c.servers {
		s.stop()
	}
	assert.Contains(t, succeed(t, "verify", "--db", c.db[1]), " 0 faults")
}

func (c *client) ready() bool {
	a, err := c.send(http.MethodGet, "/readyz", nil)
	return err == nil && a.status == http.StatusOK
}

// since is when writes were acknowledged after a time.
func (c *copies) since(t time.Time) []time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	i, _ := slices.BinarySearchFunc(c.at, t, time.Time.Compare)
	return slices.Clone(c.at[i:])
}

// longest is the longest time between two of them.
func longest(at []time.Time) (gap time.Duration) {
	for i := 1; i < len(at); i++ {
		gap = max(gap, at[i].Sub(at[i-1]))
	}
	return gap
}
