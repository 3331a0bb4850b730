package main

import (
	"context"
	"fmt"
	"log/slog"
	"runtime/debug"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/services"
)

// serveCommand runs the service.
type serveCommand struct {
	database
	Listen   string   `default:"127.0.0.1:8080" help:"Address to listen on."`
	TLSCert  string   `name:"tls-cert" help:"Certificate file, with those above it." placeholder:"FILE"`
	TLSKey   string   `name:"tls-key" help:"File with the certificate's key." placeholder:"FILE"`
	Proxy    []string `name:"trusted-proxy" default:"127.0.0.1,::1" help:"Proxies whose X-Forwarded-For is believed."`
	BaseURL  string   `name:"base-url" help:"Public address, printed on labels. Default: where it listens."`
	Language string   `default:"en" help:"Language of the pages: a tag, or a translation file."`

	RegisterYears int `name:"register-years" default:"2" help:"Years to keep a closed register. Nothing is deleted."`
}

func (c *serveCommand) Run(ctx context.Context, std streams) error {
	pair := keyPair{c.TLSCert, c.TLSKey}
	if (c.TLSCert == "") != (c.TLSKey == "") {
		return inventory.Invalidf("tls-key", "give certificate and key together")
	}
	if pair.check() != nil {
		return inventory.Invalidf("tls-cert", "name files with a certificate and its own key, in PEM form")
	}
	c.registerYears = c.RegisterYears
	svc, closeDB, err := c.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	p := &program{svc: svc, listen: c.Listen, baseURL: strings.TrimRight(c.BaseURL, "/"), tls: pair, proxies: c.Proxy,
		language: c.Language, log: slog.New(slog.NewTextHandler(std.err, nil))}
	address, err := p.start()
	if err != nil {
		return err
	}
	for _, what := range exposed(p.listener.Addr(), address, c.DB) {
		p.log.Warn(what)
	}
	fmt.Fprintf(std.out, "Stowkeeper serves %s on %s\n", address, p.listener.Addr())
	if err := welcome(ctx, svc, address, std); err != nil {
		return err
	}
	return p.serve(ctx)
}

// welcome prints the one-time link that makes the first administrator, while
// there is none.
func welcome(ctx context.Context, svc *services.All, address string, std streams) error {
	link, err := svc.Account.WelcomeLink(ctx)
	if err == nil && link != "" {
		fmt.Fprintf(std.out,
			"Nobody keeps this service yet. Within an hour, open this once to become its administrator:\n  %s/welcome/%s\n",
			address, link)
	}
	return err
}

// version is the module's version as the build knows it.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" || info.Main.Version == "(devel)" {
		return "0.1.0"
	}
	return info.Main.Version
}
