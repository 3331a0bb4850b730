package table

import (
	"archive/zip"
	"io"
	"io/fs"
	"strings"
)

// zipSink writes what a folder would hold into a ZIP file.
type zipSink struct {
	zip *zip.Writer
	csv *csvWriter
}

// NewZip returns a sink that writes a CSV file for each table and a text file
// for each note into a ZIP file, which it ends when it is closed.
func NewZip(out io.Writer) Sink { return &zipSink{zip: zip.NewWriter(out)} }

func (z *zipSink) create(name, ending string) (io.Writer, error) {
	if !plainName(strings.ToLower(name)) {
		return nil, fs.ErrInvalid
	}
	return z.zip.Create("stowkeeper/" + name + ending)
}

func (z *zipSink) Begin(name string, columns []Column) error {
	if err := z.finish(); err != nil {
		return err
	}
	out, err := z.create(name, ".csv")
	if err == nil {
		z.csv, err = newCSVWriter(out, columns)
	}
	return err
}

func (z *zipSink) Add(cells []string) error { return z.csv.add(cells) }

func (z *zipSink) Note(name, text string) error {
	if err := z.finish(); err != nil {
		return err
	}
	out, err := z.create(name, ".txt")
	if err == nil {
		_, err = io.WriteString(out, text)
	}
	return err
}

func (z *zipSink) finish() error {
	if z.csv == nil {
		return nil
	}
	z.csv.w.Flush()
	err := z.csv.w.Error()
	z.csv = nil
	return err
}

func (z *zipSink) Close() error {
	err := z.finish()
	if closed := z.zip.Close(); err == nil {
		err = closed
	}
	return err
}
