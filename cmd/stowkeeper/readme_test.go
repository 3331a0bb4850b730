package main

import (
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/cmd/stowkeeper/demo"
	"stowkeeper/testdata"
)

// TestReadme: the commands that the README shows can be understood as written, it leaves none out, nor any lasting
// setting; its pictures are there, and its sign-ins are the demo's.
func TestReadme(t *testing.T) {
	read, err := os.ReadFile(filepath.Join(root, "README.md"))
	require.NoError(t, err)
	text := string(read)
	understood := map[string]bool{}
	blocks := regexp.MustCompile("(?m)^ *(?:\\./|go run \\./cmd/)stowkeeper ([^#\n]*)").FindAllStringSubmatch(text, -1)
	inline := regexp.MustCompile("`stowkeeper ([^`]*)`|<\\(stowkeeper ([^)]*)\\)").FindAllStringSubmatch(text, -1)
	for _, m := range append(blocks, inline...) {
		line, _, _ := strings.Cut(strings.Join(m[1:], ""), ">")
		parser, err := newParser(&commands{}, streams{out: io.Discard, err: io.Discard}, func(int) {})
		require.NoError(t, err)
		var args []string
		for _, part := range regexp.MustCompile(`"([^"]*)"|(\S+)`).FindAllStringSubmatch(line, -1) {
			args = append(args, part[1]+part[2])
		}
		parsed, err := parser.Parse(args)
		if assert.NoError(t, err, line) && parsed.Selected() != nil {
			understood[parsed.Selected().Path()] = true
		}
	}
	eachCommand(t, func(n *kong.Node) {
		assert.True(t, n.Hidden || len(n.Children) > 0 || understood[n.Path()], "%s is not in the README", n.Path())
		for _, f := range n.Flags {
			for _, v := range f.Envs {
				assert.True(t, strings.Contains(text, "`"+v+"`"), "%s is not in the README", v)
			}
		}
	})
	for _, picture := range regexp.MustCompile(`testdata/[\w/]+\.png`).FindAllString(text, -1) {
		assert.FileExists(t, filepath.Join(root, picture))
	}
	signIns, err := demo.SignIns(testdata.Demo)
	require.NoError(t, err)
	people := regexp.MustCompile("\\*\\*([^*]+)\\*\\*, (\\w+),\\s(?:PIN\\s)?`([^`]+)`").FindAllStringSubmatch(text, -1)
	assert.Len(t, people, 3)
	for _, p := range people {
		assert.True(t, slices.ContainsFunc(signIns, func(s demo.SignIn) bool {
			return s.Name == p[1] && s.Role == p[2] && s.Secret == p[3]
		}), p[0])
	}
}
