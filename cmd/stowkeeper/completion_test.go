package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"stowkeeper/labels/labelstest"
)

// TestCompletion asks for what may follow, as the scripts of the shells do, and
// then has each shell itself ask.
func TestCompletion(t *testing.T) {
	for line, want := range map[string]string{
		"": "demo serve token person import export " +
			"move backup restore labels verify doctor evidence completion version",
		"to":                       "token",
		"token --db x.db ":         "create list revoke",
		"token create --na":        "--name",
		"token create --name x --": "--help --version --db --name --role --station --scope --expires",
		"person add --role ":       "crew quartermaster manager administrator",
		"person add --role c":      "crew",
		"import it":                "items",
		"import items ":            "",
		"verify --db ":             "",
		"labels --sheet letter":    "letter-3x10 letter-2x5",
		"labels --sheet a4-3x7 ":   "",
		"completion ":              "bash zsh fish",
		"completion bash ":         "",
		"nonsense ":                "",
		"complete ":                "",
	} {
		var words []string
		for said := range strings.Lines(succeed(t, append([]string{"complete"}, strings.Split(line, " ")...)...)) {
			word, help, _ := strings.Cut(strings.TrimSpace(said), "\t")
			words = append(words, word)
			if line == "to" {
				assert.Equal(t, "Create, list and revoke tokens for programs.", help)
			}
		}
		assert.Equal(t, want, strings.Join(words, " "), line)
	}
	assert.Empty(t, succeed(t, "complete"))

	dir := t.TempDir()
	program := "#!/bin/sh\n" + beTheProgram + "=1 exec '" + os.Args[0] + "' \"$@\"\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "stowkeeper"), []byte(program), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "list.csv"), nil, 0o600))
	for shell, asks := range map[string]string{
		"bash": `source <(stowkeeper completion bash)
			complete -p stowkeeper | grep -q -- '-o default -F _stowkeeper' || exit 1 # else no names of files
			ask() { COMP_WORDS=("$@"); COMP_CWORD=$(($#-1)); _stowkeeper stowkeeper; echo "${COMPREPLY[*]:-a file}"; }
			ask stowkeeper person --db x s; ask stowkeeper token create --role m; ask stowkeeper import items l`,
		"zsh": `compdef() { }; _describe() { print -l ${(P)2} | cut -d: -f1 }; _files() { print a file }
			source <(stowkeeper completion zsh)
			ask() { words=("$@"); CURRENT=$#; print $(_stowkeeper) }
			ask stowkeeper person --db x s; ask stowkeeper token create --role m; ask stowkeeper import items l`,
		"fish": `stowkeeper completion fish | source
			for line in 'person --db x s' 'token create --role m' 'import items l'
				complete -C "stowkeeper $line" | cut -f1 | sed 's/^list.csv$/a file/'
			end`,
	} {
		t.Run(shell, func(t *testing.T) {
			cmd := exec.Command(labelstest.Tool(t, shell), "-c", asks)
			cmd.Dir, cmd.Env = dir, append(os.Environ(), "PATH="+dir+":"+os.Getenv("PATH"), "HOME="+dir)
			out, err := cmd.CombinedOutput()
			require.NoError(t, err, "%s", out)
			assert.Equal(t, "set-password\nmanager\na file\n", string(out))
		})
	}
}
