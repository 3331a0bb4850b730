package main

import (
	"context"
	"fmt"
	"log/slog"
	"runtime/debug"
)

// serveCommand runs the service.
type serveCommand struct {
	database
	Listen   string `default:"127.0.0.1:8080" help:"Address to listen on."`
	BaseURL  string `name:"base-url" help:"Address at which people reach the service; labels hold it. From the listening address if left out."`
	Language string `default:"en" help:"Language of the pages: a translation that the program holds, or the path of a translation's file."`

	RegisterYears int `name:"register-years" default:"2" help:"Years that a register of controlled items is kept after its last entry, the owner's policy. Nothing is deleted; pages show the day."`
}

func (c *serveCommand) Run(ctx context.Context, std streams) error {
	svc, closeDB, err := c.open(ctx, std)
	if err != nil {
		return err
	}
	defer closeDB()
	svc.KeepRegisters = c.RegisterYears
	p := &program{svc: svc, listen: c.Listen, baseURL: c.BaseURL, language: c.Language, log: slog.New(slog.NewTextHandler(std.err, nil))}
	address, err := p.start()
	if err != nil {
		return err
	}
	fmt.Fprintf(std.out, "Stowkeeper serves %s on %s\n", address, p.listener.Addr())
	return p.serve(ctx)
}

// version is the module's version as the build knows it.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" || info.Main.Version == "(devel)" {
		return "0.1.0"
	}
	return info.Main.Version
}
