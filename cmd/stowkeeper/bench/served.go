package bench

import (
	"bufio"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"time"
)

// served is the program at work on a database, in a process of its own.
type served struct {
	cmd     *exec.Cmd
	address string
	token   string // an administrator's
	cookie  string // of a quartermaster of the first station
	client  http.Client
}

var listens = regexp.MustCompile(` on (127\.0\.0\.1:\d+)`)

// start serves a database, with what comes before the command line, such as a tracer.
func start(ctx context.Context, program, file string, before ...string) (*served, error) {
	made, err := exec.CommandContext(ctx, program, "token", "--db", file, "create", "--name", // #nosec G204 -- itself
		fmt.Sprint("bench ", time.Now().UnixNano()), "--role", "administrator").Output()
	if err != nil {
		return nil, err
	}
	p, err := serve(ctx, program, file, before...)
	if err != nil {
		return nil, err
	}
	p.token = strings.TrimSpace(string(made))
	return p, nil
}

func serve(ctx context.Context, program, file string, before ...string) (*served, error) {
	args := append(before[:len(before):len(before)], program, "serve", "--db", file, "--listen", "127.0.0.1:0")
	p := &served{cmd: exec.CommandContext(ctx, args[0], args[1:]...)} // #nosec G204 -- itself
	p.client.Transport = &http.Transport{MaxIdleConnsPerHost: 64}
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := p.cmd.Start(); err != nil {
		return nil, err
	}
	said := bufio.NewScanner(out)
	for said.Scan() {
		if m := listens.FindStringSubmatch(said.Text()); m != nil {
			p.address = m[1]
			go func() { _, _ = io.Copy(io.Discard, out) }()
			return p, nil
		}
	}
	return nil, errors.Join(errors.New("it does not serve"), p.stop())
}

// stop ends the program and waits for it; for none it does nothing.
func (p *served) stop() error {
	if p == nil {
		return nil
	}
	if err := p.cmd.Process.Signal(os.Interrupt); err != nil {
		_ = p.cmd.Process.Kill()
	}
	return p.cmd.Wait()
}

// signIn signs the quartermaster in.
func (p *served) signIn(ctx context.Context) error {
	form := url.Values{"name": {keeper}, "secret": {phrase}}
	r, err := http.NewRequestWithContext(ctx, http.MethodPost, "http://"+p.address+"/sign-in",
		strings.NewReader(form.Encode()))
	if err != nil {
		return err
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	res, err := p.client.Transport.RoundTrip(r)
	if err != nil {
		return err
	}
	defer res.Body.Close()
	for _, c := range res.Cookies() {
		if strings.HasSuffix(c.Name, "session") {
			p.cookie = c.Name + "=" + c.Value
			return nil
		}
	}
	return fmt.Errorf("signing in: %s", res.Status)
}

// get fetches a page as the quartermaster, or what the API answers to the administrator.
func (p *served) get(ctx context.Context, path string) ([]byte, error) {
	return p.ask(ctx, http.MethodGet, path, "")
}

func (p *served) ask(ctx context.Context, method, path, body string) ([]byte, error) {
	r, err := http.NewRequestWithContext(ctx, method, "http://"+p.address+path, strings.NewReader(body))
	if err != nil {
		return nil, err
	}
	if strings.HasPrefix(path, "/api/") {
		r.Header.Set("Authorization", "Bearer "+p.token)
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Idempotency-Key", rand.Text())
	} else {
		r.Header.Set("Cookie", p.cookie)
	}
	began := time.Now()
	res, err := p.client.Transport.RoundTrip(r)
	if err != nil { // such as where the program itself has cut it off
		return nil, fmt.Errorf("%s %s: no answer after %s: %w", method, path, time.Since(began).Round(time.Second), err)
	}
	defer res.Body.Close()
	got, err := io.ReadAll(res.Body)
	if err == nil && res.StatusCode/100 != 2 {
		err = fmt.Errorf("%s %s: %s: %s", method, path, res.Status, got)
	}
	return got, err
}

// seen is what a crew sees of a bag before they check it.
type seen struct {
	Code, Seal string
	Position   int64
}

// bags lists all bags, as they are now.
func (p *served) bags(ctx context.Context) (map[string]seen, error) {
	all := map[string]seen{}
	for cursor := ""; ; {
		got, err := p.get(ctx, "/api/v1/bags?limit=1000&cursor="+url.QueryEscape(cursor))
		var part struct {
			Data       []seen
			NextCursor string `json:"next_cursor"`
		}
		if err = errors.Join(err, json.Unmarshal(got, &part)); err != nil {
			return nil, err
		}
		for _, bag := range part.Data {
			all[bag.Code] = bag
		}
		if cursor = part.NextCursor; cursor == "" {
			return all, nil
		}
	}
}
