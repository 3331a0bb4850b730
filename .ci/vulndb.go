//go:build ignore

// Makes the database that govulncheck reads from a folder of OSV files: the index of version 1 as
// https://go.dev/security/vuln/database describes it (from memory). Usage: go run vulndb.go FOLDER OUT
package main

import (
	"encoding/json"
	"log"
	"os"
	"path/filepath"
	"strings"
	"time"
)

type entry struct {
	ID       string    `json:"id"`
	Modified time.Time `json:"modified"`
	Aliases  []string  `json:"aliases,omitempty"`
	Affected []struct {
		Package struct{ Name string }
		Ranges  []struct {
			Events []struct{ Introduced, Fixed string }
		}
	} `json:"affected,omitempty"`
}

type ref struct {
	ID       string    `json:"id"`
	Modified time.Time `json:"modified"`
	Fixed    string    `json:"fixed,omitempty"`
}

type module struct {
	Path  string `json:"path"`
	Vulns []ref  `json:"vulns"`
}

func main() {
	files, err := filepath.Glob(filepath.Join(os.Args[1], "GO-*.json"))
	if err != nil || len(files) == 0 {
		log.Fatal("no OSV files in ", os.Args[1])
	}
	out := os.Args[2]
	must(os.MkdirAll(filepath.Join(out, "ID"), 0o755))
	must(os.MkdirAll(filepath.Join(out, "index"), 0o755))
	var newest time.Time
	modules, vulns := map[string]*module{}, []ref{}
	for _, f := range files {
		text, err := os.ReadFile(f)
		must(err)
		var e entry
		must(json.Unmarshal(text, &e))
		must(os.WriteFile(filepath.Join(out, "ID", filepath.Base(f)), text, 0o644))
		if e.Modified.After(newest) {
			newest = e.Modified
		}
		vulns = append(vulns, ref{ID: e.ID, Modified: e.Modified})
		for _, a := range e.Affected {
			m := modules[a.Package.Name]
			if m == nil {
				m = &module{Path: a.Package.Name}
				modules[a.Package.Name] = m
			}
			r := ref{ID: e.ID, Modified: e.Modified}
			for _, g := range a.Ranges {
				for _, ev := range g.Events {
					if ev.Fixed != "" {
						r.Fixed = strings.TrimPrefix(ev.Fixed, "v")
					}
				}
			}
			if n := len(m.Vulns); n == 0 || m.Vulns[n-1].ID != e.ID {
				m.Vulns = append(m.Vulns, r)
			}
		}
	}
	var all []*module
	for _, m := range modules {
		all = append(all, m)
	}
	write(filepath.Join(out, "index", "db.json"), map[string]time.Time{"modified": newest})
	write(filepath.Join(out, "index", "modules.json"), all)
	write(filepath.Join(out, "index", "vulns.json"), vulns)
}

func write(name string, v any) {
	text, err := json.Marshal(v)
	must(err)
	must(os.WriteFile(name, text, 0o644))
}

func must(err error) {
	if err != nil {
		log.Fatal(err)
	}
}
