package main

import (
	"io"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
)

// TestMetrics: whoever watches the service sees from outside what was asked of it, what waits in it, how long its
// chains are, when it was backed up, which reports nobody reviewed and which phones nobody signed in on; strangers who
// reach the service itself do not.
func TestMetrics(t *testing.T) {
	db := smallDatabase(t)
	token := newToken(t, db, "quartermaster", "keeper")
	p := begin(t, servesLine, "serve", "--db", db, "--listen", "127.0.0.1:0", "--metrics", "127.0.0.1:0",
		"--backup-folder", t.TempDir())
	c := newClient(t, p, token)
	eventually(t, "a backup is taken", func() bool { return strings.Contains(p.log.String(), "backup taken") })
	c.post("/receipts", fields{"place": "N1-STORE", "item": "GAUZE", "qty": 3}, "Idempotency-Key", "1")
	c.want(http.StatusNotFound, "GET", "/bags/NONE", nil)
	c.post("/bags/KD7-442/uses", fields{"incident": "I-1", "seen_position": 0, "lines": []fields{{"lot_id": 1, "qty": 2}}},
		"Idempotency-Key", "2") // more than records show: it is to review
	said := metricsOf(t, p, "metrics")
	for _, line := range []string{
		`stowkeeper_request_seconds_count{method="POST",route="/api/v1/receipts",status="201"} 1`,
		`stowkeeper_request_seconds_count{method="GET",route="/api/v1/bags/:code",status="404"} 1`,
		`stowkeeper_response_seconds_count 3`, `stowkeeper_response_seconds_bucket{le="+Inf"} 3`,
		`stowkeeper_write_wait_seconds_count \d+`, `stowkeeper_write_commit_seconds_count [1-9]\d*`,
		`stowkeeper_writes_waiting 0`, `stowkeeper_requests_in_progress 0`, `stowkeeper_ready 1`,
		`stowkeeper_chain_entries{chain="N1"} [1-9]\d*`, `stowkeeper_reports_under_review 1`,
		`stowkeeper_oldest_under_review_timestamp_seconds [1-9]\d*`, `stowkeeper_backup_timestamp_seconds [1-9]\S+`,
	} {
		pattern := strings.NewReplacer("{", `\{`, "}", `\}`, `"+`, `"\+`).Replace(line)
		assert.Regexp(t, `(?m)^`+pattern+`$`, said)
	}
	for _, line := range strings.Split(strings.TrimSpace(said), "\n") {
		assert.Regexp(t, `^(# TYPE \w+ (counter|gauge|histogram|summary)|\w+(\{(\w+="[^"]*",?)+\})? [-+.e\d]+)$`, line)
	}
	for _, path := range []string{"/metrics", "/alerts.yml"} {
		res, err := http.Get("http://" + p.address + path)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		assert.Equal(t, http.StatusNotFound, res.StatusCode, path)
	}

	rules := metricsOf(t, p, "alerts.yml")
	told := regexp.MustCompile(`stowkeeper_\w+`)
	for _, name := range told.FindAllString(rules, -1) {
		if name != "stowkeeper_terminal_last_sign_in_timestamp_seconds" { // there is none
			assert.Contains(t, said, "\n"+name, "an alert rests on what is not told")
		}
	}
	assert.Equal(t, strings.Count(rules, "- alert: "), strings.Count(rules, "summary: "))
}

// TestMetricsOfTerminals: a terminal that is enrolled is told with the last day on which somebody signed in there.
func TestMetricsOfTerminals(t *testing.T) {
	s, err := store.Open(t.Context(), smallDatabase(t), store.Options{Logger: quiet(streams{err: t.Output()})})
	require.NoError(t, err)
	defer s.Close()
	svc, err := newServices(s, services.Options{})
	require.NoError(t, err)
	write := func(terminal inventory.Terminal) {
		t.Helper()
		_, err := inventory.Write(t.Context(), svc.Store, func(w inventory.Writer) (inventory.Terminal, error) {
			return w.AddTerminal(terminal)
		})
		require.NoError(t, err)
	}
	now := clock()
	write(inventory.Terminal{Name: `Van "2"`, Station: "N1", Hash: "a", CreatedAt: now, CreatedBy: "x", EnrolledAt: now})
	write(inventory.Terminal{Name: "not enrolled", CreatedAt: now, CreatedBy: "x"})
	write(inventory.Terminal{Name: "lost", Hash: "b", CreatedAt: now, CreatedBy: "x", EnrolledAt: now, RevokedAt: now})
	p := &program{svc: svc, metrics: &metrics{}}
	said := p.gathered(t.Context())
	assert.Regexp(t, `_last_sign_in_timestamp_seconds\{terminal="Van \\"2\\"",station="N1"\} [1-9]\d+\n`, said)
	assert.Equal(t, 1, strings.Count(said, "stowkeeper_terminal_"))
	assert.Contains(t, said, "stowkeeper_ready 0\n", "nothing was probed")
}

// TestRequestsAreNamed: who is told of a problem can say its id, and who reads the log finds it there.
func TestRequestsAreNamed(t *testing.T) {
	db := smallDatabase(t)
	p := serve(t, db)
	ids := map[string]bool{}
	for path, body := range map[string]any{"/api/v1/receipts": fields{}, "/api/v1/none": nil, "/api/v1/bags": "[",
		"/b/none": nil} {
		a, err := newClient(t, p, newToken(t, db, "crew", path, "N1")).send("POST", path, body)
		require.NoError(t, err)
		id := a.header.Get("X-Request-Id")
		assert.Len(t, id, 26)
		ids[id] = true
		if strings.HasPrefix(path, "/api/") {
			assert.Equal(t, id, part[struct {
				ID string `json:"request_id"`
			}](a).ID, "%s", a.body)
		}
		eventually(t, "it is in the log", func() bool { return strings.Contains(p.log.String(), "request_id="+id) })
	}
	assert.Len(t, ids, 4)
}

var metricsAt = regexp.MustCompile(`address=(http://\S+/)metrics`)

// metricsOf reads the metrics of a server.
func metricsOf(t testing.TB, p *process, path string) string {
	t.Helper()
	m := metricsAt.FindStringSubmatch(p.log.String())
	require.NotNil(t, m, "%s", p.log)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, m[1]+path, http.NoBody)
	require.NoError(t, err)
	res, err := http.DefaultClient.Do(r)
	require.NoError(t, err)
	defer res.Body.Close()
	text, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, res.StatusCode)
	return string(text)
}

// metricOf is one of them, with its labels.
func metricOf(t testing.TB, p *process, name string) float64 {
	t.Helper()
	m := regexp.MustCompile(`(?m)^` + regexp.QuoteMeta(name) + ` (\S+)$`).FindStringSubmatch(metricsOf(t, p, "metrics"))
	require.NotNil(t, m, name)
	v, err := strconv.ParseFloat(m[1], 64)
	require.NoError(t, err)
	return v
}
