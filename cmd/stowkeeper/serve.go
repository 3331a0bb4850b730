package main

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"runtime/debug"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/report"
	"stowkeeper/inventory/services"
)

// serveCommand runs the service.
type serveCommand struct {
	database
	Listen   string   `env:"STOWKEEPER_LISTEN" default:"127.0.0.1:8080" help:"Address to listen on."`
	BaseURL  string   `name:"base-url" env:"STOWKEEPER_BASE_URL" help:"Public address, as on labels." placeholder:"URL"`
	TLSCert  string   `name:"tls-cert" env:"STOWKEEPER_TLS_CERT" help:"Certificate chain (PEM)." placeholder:"FILE"`
	TLSKey   string   `name:"tls-key" env:"STOWKEEPER_TLS_KEY" help:"Key of the certificate (PEM)." placeholder:"FILE"`
	Proxy    []string `name:"trusted-proxy" env:"STOWKEEPER_TRUSTED_PROXY" default:"127.0.0.1,::1" help:"Trusted proxies."`
	Host     []string `env:"STOWKEEPER_HOST" help:"Further hosts to answer to; * for any." placeholder:"HOST"`
	Language string   `env:"STOWKEEPER_LANGUAGE" default:"en" help:"Language of pages: a tag or a translation file."`

	BackupFolder    string `env:"STOWKEEPER_BACKUP_FOLDER" help:"Back up into it each hour." placeholder:"FOLDER"`
	BackupEncryptTo string `env:"STOWKEEPER_BACKUP_ENCRYPT_TO" help:"Encrypt to an age key." placeholder:"KEY"`

	Metrics string `env:"STOWKEEPER_METRICS" help:"Tell Prometheus how it is on this address." placeholder:"ADDRESS"`

	RegisterYears int `env:"STOWKEEPER_REGISTER_YEARS" default:"2" help:"Years to keep closed registers. Deletes nothing."`
	CountDays     int `env:"STOWKEEPER_COUNT_DAYS" default:"90" help:"Count each place once in so many days."`
	ReviewDays    int `env:"STOWKEEPER_REVIEW_DAYS" default:"7" help:"Days from one look at what to order to the next."`

	ServiceCritical float64 `env:"STOWKEEPER_SERVICE_CRITICAL" default:"99" help:"Service level of critical items, %."`
	ServiceOther    float64 `env:"STOWKEEPER_SERVICE_OTHER" default:"95" help:"Service level of other items, %."`
}

// heapGoal is how many bytes of memory make the collector hurry, so that all that is asked for at once, with the
// program itself and SQLite's own memory, stays within 300 MB.
const heapGoal = 200 << 20

func (c *serveCommand) Run(ctx context.Context, std streams) error {
	pair := keyPair{c.TLSCert, c.TLSKey}
	if (c.TLSCert == "") != (c.TLSKey == "") {
		return inventory.InvalidField("tls-key", "set --tls-cert and --tls-key together")
	}
	if pair.check() != nil {
		return inventory.InvalidField("tls-cert", "choose PEM files with a certificate and its own key")
	}
	c.counting = &metrics{}
	if debug.SetMemoryLimit(-1) == math.MaxInt64 { // GOMEMLIMIT does not say otherwise
		debug.SetMemoryLimit(heapGoal)
	}
	for name, level := range map[string]float64{"service-critical": c.ServiceCritical, "service-other": c.ServiceOther} {
		if level < 50 || level > 99.99 {
			return inventory.InvalidField(name, "enter {1} to {2}", "50", "99.99")
		}
	}
	policy := services.Options{KeepRegisters: c.RegisterYears, CountDays: c.CountDays, Reorder: report.ReorderPolicy{
		ReviewDays: c.ReviewDays, Critical: c.ServiceCritical / 100, Other: c.ServiceOther / 100}}
	return c.orNew(ctx, std, policy, func(svc *services.All) error {
		if err := sameAsServed(ctx, svc, c.DB); err != nil {
			return err
		}
		p := &program{svc: svc, db: c.DB, listen: c.Listen, baseURL: strings.TrimRight(c.BaseURL, "/"), tls: pair,
			proxies: c.Proxy, hosts: c.Host, language: c.Language, metrics: c.counting,
			log: slog.New(withRequest{slog.NewTextHandler(std.err, nil)})}
		address, err := p.start()
		if err != nil {
			return err
		}
		if c.BackupFolder != "" {
			b := backup{c.DB, c.BackupEncryptTo}
			if err := b.mayGoTo(c.BackupFolder); err != nil {
				return err
			}
			p.backups = true
			go p.keepBackups(ctx, std, b, c.BackupFolder)
		}
		if c.Metrics != "" {
			if err := p.serveMetrics(ctx, c.Metrics); err != nil {
				return err
			}
		}
		for _, what := range exposed(p.listener.Addr(), address, c.DB) {
			p.log.Warn(what)
		}
		fmt.Fprintf(std.out, "Stowkeeper serves %s on %s\n", address, p.listener.Addr())
		if err := welcome(ctx, svc, address, std); err != nil && ctx.Err() == nil { // asked to stop already: it does
			return err
		}
		return p.serve(ctx)
	})
}

// welcome prints the one-time link that makes the first administrator, while there is none.
func welcome(ctx context.Context, svc *services.All, address string, std streams) error {
	link, err := svc.Account.WelcomeLink(ctx)
	if err == nil && link != "" {
		fmt.Fprintf(std.out,
			"No administrator yet. Create the first one here (works once, within an hour):\n  %s/welcome/%s\n",
			address, link)
	}
	return err
}
