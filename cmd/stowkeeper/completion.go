package main

import (
	"fmt"
	"strings"

	"github.com/alecthomas/kong"
)

// completionCommand prints the script by which a shell asks this program what may come next. The libraries that do
// this for kong rest on one last released in 2019, bring five modules and know neither help texts nor files in fish.
type completionCommand struct {
	Shell string `arg:"" enum:"bash,zsh,fish" help:"bash, zsh or fish."`
}

// scripts hand the words before the cursor to the hidden command complete, and fall back to names of files.
var scripts = map[string]string{
	"bash": `_stowkeeper() {
    local IFS=$'\n'
    COMPREPLY=($("$1" complete "${COMP_WORDS[@]:1:COMP_CWORD}" 2>/dev/null | cut -f1))
}
complete -o default -F _stowkeeper stowkeeper
`,
	"zsh": `#compdef stowkeeper
_stowkeeper() {
    local -a found
    found=(${(f)"$($words[1] complete "${(@)words[2,CURRENT]}" 2>/dev/null)"})
    found=(${${found//:/\\:}/$'\t'/:})
    if (( $#found )); then _describe stowkeeper found; else _files; fi
}
compdef _stowkeeper stowkeeper
`,
	"fish": `function __stowkeeper
    set -l words (commandline -opc) (commandline -ct)
    set -l found ($words[1] complete $words[2..] 2>/dev/null)
    if test -n "$found"; printf '%s\n' $found; else; __fish_complete_path $words[-1]; end
end
complete -c stowkeeper -f -a '(__stowkeeper)'
`,
}

func (c *completionCommand) Run(std streams) error {
	_, err := fmt.Fprint(std.out, scripts[c.Shell])
	return err
}

// completeCommand answers a shell: one word a line, with its help after a tab. None means a file, or anything.
type completeCommand struct {
	Words []string `arg:"" optional:""`
}

func (c *completeCommand) Run(std streams, parsed *kong.Context) error {
	last := len(c.Words) - 1
	if last < 0 {
		return nil
	}
	for _, line := range following(parsed.Kong, c.Words[:last], c.Words[last]) {
		if strings.HasPrefix(line, c.Words[last]) {
			fmt.Fprintln(std.out, strings.TrimSpace(line))
		}
	}
	return nil
}

// following lists the words, each with a tab and its help, that may stand where word is being typed.
func following(k *kong.Kong, before []string, word string) (out []string) {
	trace, err := kong.Trace(k, before)
	if err != nil {
		return nil
	}
	for _, f := range trace.Flags() {
		if len(before) > 0 && before[len(before)-1] == "--"+f.Name && !f.IsBool() {
			return choices(f.Value)
		}
		if strings.HasPrefix(word, "-") {
			out = append(out, "--"+f.Name+"\t"+f.Help)
		}
	}
	if trace.Error != nil || len(out) > 0 {
		return out
	}
	node := trace.Selected()
	if node == nil {
		node = k.Model.Node
	}
	for _, child := range node.Children {
		if !child.Hidden {
			out = append(out, child.Name+"\t"+child.Help)
		}
	}
	filled := 0
	for _, p := range trace.Path {
		if p.Positional != nil {
			filled++
		}
	}
	if filled < len(node.Positional) {
		out = append(out, choices(node.Positional[filled])...)
	}
	return out
}

// choices lists what a flag or argument can be, where that is one of a few words.
func choices(v *kong.Value) []string {
	if v.Enum == "" {
		return nil
	}
	return v.EnumSlice()
}
