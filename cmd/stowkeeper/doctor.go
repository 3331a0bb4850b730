package main

import (
	"context"
	"crypto/x509"
	"database/sql"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"runtime/debug"
	"strings"
	"text/tabwriter"
	"time"

	"stowkeeper/inventory/services"
	"stowkeeper/inventory/store"
)

// doctorCommand looks at all that an administrator's page shows of a service, and at what lies around it.
type doctorCommand struct {
	database
	BaseURL string `name:"base-url" env:"STOWKEEPER_BASE_URL" help:"Public address, as on labels." placeholder:"URL"`
	TLSCert string `name:"tls-cert" env:"STOWKEEPER_TLS_CERT" help:"Certificate chain (PEM)." placeholder:"FILE"`
	Backups string `name:"backup-folder" env:"STOWKEEPER_BACKUP_FOLDER" help:"Backups." placeholder:"FOLDER"`
}

// How long an address may take to answer, and how long before its end a certificate is told of.
const (
	answersWithin = 5 * time.Second
	endsSoon      = 21 * 24 * time.Hour
)

// checkup is what was found, a line each.
type checkup struct {
	out          *tabwriter.Writer
	looks, wrong int
}

// say writes what was looked at and what was found. What is to be done makes it wrong.
func (c *checkup) say(looked, found, do string) {
	state := "ok"
	c.looks++
	if do != "" {
		c.wrong++
		state, found = "WRONG", found+": "+do
	}
	fmt.Fprintf(c.out, "%s\t%s\t%s\n", state, looked, printable(found))
}

// note writes what could not be looked at, and why.
func (c *checkup) note(looked, why string) { fmt.Fprintf(c.out, "-\t%s\t%s\n", looked, why) }

func (c *doctorCommand) Run(ctx context.Context, std streams) error {
	d := &checkup{out: tabwriter.NewWriter(std.out, 0, 0, 2, ' ', 0)}
	d.say("version", versionText(debug.ReadBuildInfo()), "")
	if store.IsPostgres(c.DB) {
		d.note("file, room, backups", "on the machine of PostgreSQL")
	} else if d.file(c.DB) {
		d.private(c.DB)
		d.whole(ctx, c.DB)
		d.room(c.DB)
		d.backups(c.Backups)
	}
	if err := c.with(ctx, std, func(svc *services.All) error { return d.service(ctx, svc) }); err != nil {
		d.say("database", err.Error(), "see above, and \"When something goes wrong\" in the README")
	}
	d.certificate(c.TLSCert)
	d.answers(ctx, c.BaseURL)
	if err := d.out.Flush(); err != nil {
		return err
	}
	if d.wrong > 0 {
		return fmt.Errorf("%d of %d are wrong: see above", d.wrong, d.looks)
	}
	return nil
}

func (c *checkup) file(name string) bool {
	info, err := os.Stat(name)
	if err != nil || info.IsDir() {
		c.say("file", name, "there is no such file, check the path")
		return false
	}
	c.say("file", fmt.Sprintf("%s, %s", name, inMB(info.Size())), "")
	return true
}

func inMB(n int64) string { return fmt.Sprintf("%.1f MB", float64(n)/1e6) }

// private looks at who may read what holds the hashes of PINs.
func (c *checkup) private(name string) {
	for _, beside := range []string{"", "-wal", "-shm"} {
		info, err := os.Stat(name + beside)
		if err == nil && info.Mode().Perm()&0o077 != 0 {
			c.say("permissions", fmt.Sprintf("others may open %s (%s)", name+beside, info.Mode().Perm()), "chmod 600 it")
			return
		}
	}
	folder := filepath.Dir(name)
	info, err := os.Stat(folder)
	if err == nil && info.Mode().Perm()&0o002 != 0 && info.Mode()&os.ModeSticky == 0 {
		c.say("permissions", "everybody may replace files in "+folder, "chmod o-w it")
		return
	}
	probe, err := os.CreateTemp(folder, ".doctor-*")
	if err != nil {
		c.say("permissions", "nothing can be written into "+folder, "give the program's user the right to")
		return
	}
	_ = errors.Join(probe.Close(), os.Remove(probe.Name()))
	c.say("permissions", "the file is its owner's alone, its folder can be written", "")
}

// whole has SQLite read all of the file.
func (c *checkup) whole(ctx context.Context, name string) {
	faults, err := integrity(ctx, name)
	switch {
	case err != nil:
		c.say("integrity", err.Error(), "restore the newest backup")
	case len(faults) > 0:
		c.say("integrity", strings.Join(faults, "; "), "restore the newest backup")
	default:
		c.say("integrity", "SQLite finds the whole file sound", "")
	}
}

func integrity(ctx context.Context, name string) (faults []string, err error) {
	db, err := sql.Open("sqlite", "file:"+(&url.URL{Path: filepath.ToSlash(name)}).EscapedPath()+
		"?mode=ro&_pragma=busy_timeout(5000)")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	rows, err := db.QueryContext(ctx, "PRAGMA integrity_check(5)")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	for rows.Next() {
		var said string
		if err := rows.Scan(&said); err != nil {
			return nil, err
		}
		if said != "ok" {
			faults = append(faults, said)
		}
	}
	return faults, rows.Err()
}

func (c *checkup) room(name string) {
	size, free := room(name)
	switch {
	case free == 0:
		c.note("free space", "not known here")
	case littleRoom(size, free):
		c.say("free space", inMB(free)+" are left", "make room: a backup needs as much again as the database")
	default:
		c.say("free space", inMB(free)+" are left", "")
	}
}

func (c *checkup) backups(folder string) {
	if folder == "" {
		c.note("backup", "none by the hour: see --backup-folder of serve")
		return
	}
	taken, err := backup{}.inFolder(folder)
	last := newest(taken)
	switch {
	case err != nil:
		c.say("backup", "no such folder: "+folder, "check the path")
	case last.IsZero():
		c.say("backup", "there is none in "+folder, "start serve with --backup-folder and look at its log")
	case time.Since(last) > backupIsOld:
		c.say("backup", "the newest is of "+last.Format(time.RFC3339), "look at the log of serve for why none was taken")
	default:
		c.say("backup", "the newest is of "+last.Format(time.RFC3339), "")
	}
}

// service looks at what can be asked of a database that is open.
func (c *checkup) service(ctx context.Context, svc *services.All) error {
	do := ""
	found := svc.Store.Engine() + " answers and takes a write"
	if err := svc.Store.Probe(ctx); err != nil {
		found, do = err.Error(), "nothing can be recorded until that is put right"
	}
	c.say("database", found, do)
	if err := svc.History.LookAtClock(ctx); err != nil {
		return err
	}
	clock := svc.History.Clock()
	if clock.Warns() {
		c.say("clock", fmt.Sprintf("it says %s, the newest record is of %s", clock.Now, clock.Newest),
			"set it, or confirm under Admin, Service that it is right")
	} else {
		c.say("clock", fmt.Sprintf("it says %s, and no record is later", clock.Now), "")
	}
	r, err := svc.Verify.Verify(ctx)
	if err != nil {
		return err
	}
	found, do = fmt.Sprintf("%d entries, %d faults", r.Entries, len(r.Faults)), ""
	if len(r.Faults) > 0 {
		do = "see stowkeeper verify"
	}
	c.say("records", found, do)
	return nil
}

func (c *checkup) certificate(file string) {
	if file == "" {
		return
	}
	text, err := os.ReadFile(file) // #nosec G304 -- the operator names it
	block, _ := pem.Decode(text)
	var cert *x509.Certificate
	if err == nil && block != nil {
		cert, err = x509.ParseCertificate(block.Bytes)
	}
	if err != nil || cert == nil {
		c.say("certificate", file, "choose a PEM file with a certificate")
		return
	}
	c.ends(cert)
}

func (c *checkup) ends(cert *x509.Certificate) {
	found, do := "it ends on "+cert.NotAfter.Format("2 Jan 2006"), ""
	if time.Until(cert.NotAfter) < endsSoon {
		do = "renew it, then start the service again"
	}
	c.say("certificate", found, do)
}

// answers asks the address that labels hold whether it is this program's.
func (c *checkup) answers(ctx context.Context, base string) {
	if base == "" {
		c.note("address", "give --base-url, as on labels")
		return
	}
	ctx, cancel := context.WithTimeout(ctx, answersWithin)
	defer cancel()
	const do = "start the service, or correct its name, proxy or certificate: labels open this address"
	ask, err := http.NewRequestWithContext(ctx, http.MethodGet, strings.TrimRight(base, "/")+"/healthz", http.NoBody)
	if err != nil {
		c.say("address", base, "write it like https://stock.example.org")
		return
	}
	res, err := http.DefaultClient.Do(ask)
	if err != nil {
		c.say("address", err.Error(), do)
		return
	}
	defer res.Body.Close()
	said, _ := io.ReadAll(io.LimitReader(res.Body, 16))
	if string(said) != "ok\n" {
		c.say("address", fmt.Sprintf("%s answers %s, which is not this program", base, res.Status), do)
		return
	}
	c.say("address", base+" answers", "")
	if res.TLS != nil && len(res.TLS.PeerCertificates) > 0 {
		c.ends(res.TLS.PeerCertificates[0])
	}
}
