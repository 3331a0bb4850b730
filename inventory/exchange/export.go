package exchange

import (
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"os"
	"reflect"
	"strconv"
	"strings"

	"stowkeeper/inventory"
	"stowkeeper/inventory/table"
)

// Export writes everything that the actor may see: first the lists that an import reads, then the history, for
// reading. It is one snapshot. Names of people are written for those who keep people; PINs and passwords never are.
// Refuses: Forbidden without keep_lists.
func (s *Service) Export(ctx context.Context, by inventory.Actor, out table.Sink) error {
	now := s.now()
	return s.store.Read(ctx, func(_ context.Context, r inventory.Reader) error {
		if err := by.Must(inventory.ActKeepLists, ""); err != nil {
			return err
		}
		if err := out.Note("README", exportReadme(now)); err != nil {
			return err
		}
		x := &exporting{r: r, by: by, stations: by.StationsSeen(), out: out, products: map[string][]inventory.Product{}}
		for _, k := range ImportKinds {
			if l := kinds[k]; by.May(l.act) || k == ImportCategories || k == ImportStations {
				if err := x.table(string(k), l); err != nil {
					return err
				}
			}
		}
		if !by.May(inventory.ActHistory) { // a token that is kept to lists
			return nil
		}
		for _, h := range histories {
			if err := x.table(h.name, h.list); err != nil {
				return err
			}
		}
		return nil
	})
}

// File is an export in a temporary file, which goes when it is closed.
type File struct {
	*os.File
	Size int64 // in bytes
}

// Close removes the file.
func (f *File) Close() error { return errors.Join(f.File.Close(), os.Remove(f.Name())) }

// ExportFile writes an export whole before any of it can be read, so that one that fails half way is not taken for
// all. Refuses: Forbidden without keep_lists; Unavailable while two others are made.
func (s *Service) ExportFile(ctx context.Context, by inventory.Actor, sink func(io.Writer) table.Sink) (*File, error) {
	if err := by.Must(inventory.ActKeepLists, ""); err != nil {
		return nil, err
	}
	select {
	case s.busy <- struct{}{}:
		defer func() { <-s.busy }()
	default:
		return nil, inventory.Refuse(inventory.Unavailable, "Busy. Try again in a minute.")
	}
	made, err := os.CreateTemp("", "stowkeeper-export-*")
	if err != nil {
		return nil, err
	}
	f := &File{File: made}
	out := sink(made)
	err = errors.Join(s.Export(ctx, by, out), out.Close())
	if err == nil {
		f.Size, err = made.Seek(0, io.SeekCurrent)
	}
	if err == nil {
		_, err = made.Seek(0, io.SeekStart)
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

// exporting is one export under way.
type exporting struct {
	r        inventory.Reader
	by       inventory.Actor
	stations []string // nil for all
	out      table.Sink
	products map[string][]inventory.Product
}

func (x *exporting) table(name string, l list) error {
	if err := x.out.Begin(name, tableColumns(l.columns)); err != nil {
		return err
	}
	return l.write(x)
}

// each does something with each of a list that was read.
func each[T any](all []T, err error, do func(T) error) error {
	for i := 0; i < len(all) && err == nil; i++ {
		err = do(all[i])
	}
	return err
}

// pages reads a list a thousand at a time, by ids.
func pages[F, T any](read func(F, inventory.Page) ([]T, error), of F, do func(T) error) error {
	return parts(read, of, func(part []T) error { return each(part, nil, do) })
}

func parts[F, T any](read func(F, inventory.Page) ([]T, error), of F, do func([]T) error) error {
	for p := (inventory.Page{Limit: 1000}); ; {
		part, err := read(of, p)
		if err == nil && len(part) > 0 {
			err = do(part)
		}
		if err != nil || len(part) < p.Limit {
			return err
		}
		last := reflect.ValueOf(part[len(part)-1])
		p.After = strconv.FormatInt(last.FieldByName("ID").Int(), 10)
	}
}

//go:embed export_readme.txt
var readmeHead string

// exportReadme explains every table and column.
func exportReadme(now inventory.Instant) string {
	var b strings.Builder
	fmt.Fprintf(&b, readmeHead, now)
	for _, k := range ImportKinds {
		explainTable(&b, string(k), kinds[k])
	}
	b.WriteString("\nHistory, for reading: an import leaves it out\n")
	for _, h := range histories {
		explainTable(&b, h.name, h.list)
	}
	return b.String()
}

func explainTable(b *strings.Builder, name string, l list) {
	fmt.Fprintf(b, "\n%s: %s\n", name, l.about)
	for _, c := range l.columns {
		must := map[bool]string{true: ", needed"}[c.presence == needed]
		fmt.Fprintf(b, "  %s (%s%s): %s\n", c.name, cellWords[c.kind], must, c.about)
	}
}
