package web

import (
	"bytes"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
)

var (
	importLine = regexp.MustCompile(`(?m)^import (?:\{([^}]*)\} from )?"\./([a-z]+)\.js";\n`)
	exported   = regexp.MustCompile(`(?m)^export ((?:async )?function|const) (\w+)`)
	remark     = regexp.MustCompile(`(?m)^\s*//.*\n| // [^"'\x60\n]*$`)
	indent     = regexp.MustCompile(`(?m)^\s+`)
	unpacked   = regexp.MustCompile(`(?m)^(?:import|export)\b.*`)
)

// pack joins a module and all that it imports into one script, each after what it needs, so that a phone fetches one
// file. The modules are written as ES modules of a plain kind: imports by name from beside, exports of functions and
// constants, no circles. Each keeps a scope of its own.
func pack(files fs.FS, folder, entry string) ([]byte, error) {
	p := packing{files: files, folder: folder}
	p.out.WriteString("(function () {\n\"use strict\";\n")
	if err := p.add(strings.TrimSuffix(entry, ".js")); err != nil {
		return nil, fmt.Errorf("script %s: %w", entry, err)
	}
	p.out.WriteString("})();\n")
	return p.out.Bytes(), nil
}

type packing struct {
	files          fs.FS
	folder         string
	out            bytes.Buffer
	begun, written []string
}

func (p *packing) add(name string) error {
	if slices.Contains(p.begun, name) {
		if !slices.Contains(p.written, name) {
			return fmt.Errorf("%s imports itself by way of others", name)
		}
		return nil
	}
	p.begun = append(p.begun, name)
	body, err := fs.ReadFile(p.files, path.Join(p.folder, name+".js"))
	if err != nil {
		return err
	}
	for _, m := range importLine.FindAllSubmatch(body, -1) {
		if err := p.add(string(m[2])); err != nil {
			return err
		}
	}
	var names []string
	for _, m := range exported.FindAllSubmatch(body, -1) {
		names = append(names, string(m[2]))
	}
	body = importLine.ReplaceAll(body, []byte("const {$1} = m_$2;\n"))
	body = exported.ReplaceAll(body, []byte("$1 $2"))
	if left := unpacked.Find(body); left != nil {
		return fmt.Errorf("%s: %s is not written as the other modules are", name, left)
	}
	body = indent.ReplaceAll(remark.ReplaceAll(body, nil), nil)
	fmt.Fprintf(&p.out, "const m_%s = (function () {\n%sreturn { %s };\n})();\n", name, body, strings.Join(names, ", "))
	p.written = append(p.written, name)
	return nil
}
