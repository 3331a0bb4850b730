package workbook

import (
	"archive/zip"
	"bufio"
	"bytes"
	"errors"
	"io"
	"path"
	"strings"
)

// Limits of a workbook that is read, in bytes unpacked: of all of it; of its texts, which are kept once for all sheets;
// of a row, and of what stands before the first and after the last; and of all that is neither sheet nor text, as
// styles and pictures. The library beneath holds a row and the texts whole, in several times that memory, and styles
// in twenty times.
const (
	maxUnpacked = 256 << 20
	maxTexts    = 8 << 20
	maxRow      = 3 << 20
	maxOther    = 2 << 20
	maxParts    = 500
)

var errTooLarge = errors.New("too large unpacked")

// fit refuses a workbook that would take more memory than one that a person has made. What its parts say of their own
// size is not believed.
func fit(z *zip.Reader) error {
	if len(z.File) > maxParts {
		return errTooLarge
	}
	all, texts, other := int64(maxUnpacked), int64(maxTexts), int64(maxOther)
	for _, part := range z.File {
		n, err := sizeOf(part, all)
		if err != nil {
			return err
		}
		all -= n
		switch name := strings.ToLower(part.Name); {
		case path.Dir(name) == "xl/worksheets":
		case path.Base(name) == "sharedstrings.xml":
			texts -= n
		default:
			other -= n
		}
		if min(all, texts, other) < 0 {
			return errTooLarge
		}
	}
	return nil
}

// sizeOf reads a part, of which there may be so much, and returns how many bytes it has.
func sizeOf(part *zip.File, most int64) (int64, error) {
	in, err := part.Open()
	if err != nil {
		return 0, err
	}
	defer in.Close()
	limited := io.LimitReader(in, most+1)
	if path.Dir(strings.ToLower(part.Name)) == "xl/worksheets" {
		return rowsFit(limited)
	}
	return io.Copy(io.Discard, limited)
}

// rowsFit reads a sheet and refuses one with a row that is too long. Only the names of tags are looked at. What could
// hide a tag, as a comment does, no spreadsheet program writes.
func rowsFit(in io.Reader) (read int64, err error) {
	b := bufio.NewReaderSize(in, 64<<10)
	start := int64(0)
	for {
		text, err := b.ReadSlice('<')
		read += int64(len(text))
		if read-start > maxRow {
			return read, errTooLarge
		}
		if errors.Is(err, bufio.ErrBufferFull) {
			continue
		}
		if err == io.EOF {
			return read, nil
		}
		if err != nil {
			return read, err
		}
		tag, _ := b.Peek(24)
		if bytes.HasPrefix(tag, []byte("!")) {
			return read, errTooLarge
		}
		if i := bytes.IndexAny(tag, " />\t\r\n"); i > 0 {
			if name := tag[bytes.IndexByte(tag[:i], ':')+1 : i]; string(name) == "row" {
				start = read
			}
		}
	}
}
