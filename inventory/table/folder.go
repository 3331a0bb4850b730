package table

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Folder is a folder of CSV files, each a table named as its file is. Only those named in advance are looked at.
type Folder struct {
	Dir   string
	Names []string // without .csv
}

// Tables lists those files that are there.
func (f Folder) Tables() []string {
	return slices.DeleteFunc(slices.Clone(f.Names), func(name string) bool {
		_, err := os.Stat(f.path(name))
		return err != nil
	})
}

func (f Folder) path(name string) string { return filepath.Join(f.Dir, name+".csv") }

// Open reads one file.
func (f Folder) Open(name string) (Rows, error) {
	if !plainName(name) {
		return nil, &BadError{Fix: "there is no such table"}
	}
	file, err := os.Open(f.path(name))
	if err != nil {
		return nil, err
	}
	info, err := file.Stat()
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	rows, err := CSV{Name: name, Data: file, Size: info.Size()}.Open(name)
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	return closing{rows, file}, nil
}

type closing struct {
	Rows
	file io.Closer
}

func (c closing) Close() error { return c.file.Close() }

// plainName tells whether a table's name can be a file's: it leads nowhere.
func plainName(name string) bool {
	return name != "" && strings.Trim(name, "abcdefghijklmnopqrstuvwxyz-") == ""
}

// folderSink writes each table as a CSV file.
type folderSink struct {
	dir  string
	file *os.File
	csv  *csvWriter
}

// NewFolder makes a folder, or takes an empty one, and returns a sink that
// writes a CSV file for each table and a text file for each note.
func NewFolder(dir string) (Sink, error) {
	if err := os.MkdirAll(dir, 0o750); err != nil {
		return nil, err
	}
	entries, err := os.ReadDir(dir)
	if err == nil && len(entries) > 0 {
		err = &BadError{Fix: "name a folder that is new or empty"}
	}
	return &folderSink{dir: dir}, err
}

func (f *folderSink) create(name, ending string) (*os.File, error) {
	if !plainName(strings.ToLower(name)) {
		return nil, fs.ErrInvalid
	}
	// #nosec G304 -- the operator names the folder, and name is plain
	return os.OpenFile(filepath.Join(f.dir, name+ending), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
}

func (f *folderSink) Begin(name string, columns []Column) error {
	if err := f.finish(); err != nil {
		return err
	}
	var err error
	if f.file, err = f.create(name, ".csv"); err != nil {
		return err
	}
	f.csv, err = newCSVWriter(f.file, columns)
	return err
}

func (f *folderSink) Add(cells []string) error { return f.csv.add(cells) }

func (f *folderSink) Note(name, text string) error {
	file, err := f.create(name, ".txt")
	if err != nil {
		return err
	}
	_, err = file.WriteString(text)
	return errors.Join(err, file.Close())
}

func (f *folderSink) Close() error { return f.finish() }

func (f *folderSink) finish() error {
	if f.file == nil {
		return nil
	}
	f.csv.w.Flush()
	err := errors.Join(f.csv.w.Error(), f.file.Close())
	f.file = nil
	return err
}
