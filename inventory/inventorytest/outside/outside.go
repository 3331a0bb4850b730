// Package outside lets tests ask programs that know nothing of ours: R for statistics, GLPK for optima, and what reads
// calendars.
package outside

import (
	"bufio"
	"bytes"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"
)

// Tool finds a program. Without it the test is skipped, or fails where nothing may be skipped.
func Tool(t testing.TB, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		missing(t, name)
	}
	return path
}

func missing(t testing.TB, name string) {
	t.Helper()
	if os.Getenv("STOWKEEPER_NO_SKIP") == "1" {
		t.Fatalf("%s is not installed and STOWKEEPER_NO_SKIP is set", name)
	}
	t.Skipf("%s is not installed", name)
}

// noLibrary is what our scripts end with where R lacks a library.
const noLibrary = 86

// R runs a script that may use one library of R ("" for none), and returns the numbers that it prints, by line. The
// script reads its input from the connection "input"; it has row(…) to print a line of numbers, each exactly.
func R(t testing.TB, library, script, input string) [][]float64 {
	t.Helper()
	head := `row <- function(...) cat(sprintf("%.17g", c(...)), "\n"); input <- file("stdin", "r"); `
	if library != "" {
		head += `if (!suppressPackageStartupMessages(require("` + library + `", quietly=TRUE))) quit(status=` +
			strconv.Itoa(noLibrary) + `); `
	}
	script = strings.ReplaceAll(head+script, "\t", " ")                // Rscript takes a tab for the end
	cmd := exec.Command(Tool(t, "Rscript"), "--vanilla", "-e", script) // #nosec G204 -- of a test
	cmd.Stdin = strings.NewReader(input)
	var complaints bytes.Buffer
	cmd.Stderr = &complaints
	out, err := cmd.Output()
	if cmd.ProcessState.ExitCode() == noLibrary {
		missing(t, "R's "+library)
	}
	if err != nil {
		t.Fatalf("R: %v: %s", err, &complaints)
	}
	var rows [][]float64
	for lines := bufio.NewScanner(bytes.NewReader(out)); lines.Scan(); {
		var row []float64
		for _, word := range strings.Fields(lines.Text()) {
			n, err := strconv.ParseFloat(strings.ReplaceAll(word, "NA", "NaN"), 64)
			if err != nil {
				t.Fatalf("R printed %q", lines.Text())
			}
			row = append(row, n)
		}
		rows = append(rows, row)
	}
	return rows
}
