package main

import (
	"fmt"
	"runtime"
	"runtime/debug"
)

// versionCommand prints what --version prints.
type versionCommand struct{}

func (c *versionCommand) Run(std streams) error {
	_, err := fmt.Fprintln(std.out, versionText(debug.ReadBuildInfo()))
	return err
}

// versionText says which build this is, and that it is not known where Go put no version into it: go run and a build
// outside a git clone have none.
func versionText(info *debug.BuildInfo, ok bool) string {
	return fmt.Sprintf("stowkeeper %s (%s, %s/%s)", versionOf(info, ok), runtime.Version(), runtime.GOOS, runtime.GOARCH)
}

const unknownVersion = "unknown version"

// versionOf is the version of the program's module as the build knows it.
func versionOf(info *debug.BuildInfo, ok bool) string {
	if !ok || info.Main.Version == "" || info.Main.Version == "(devel)" {
		return unknownVersion
	}
	return info.Main.Version
}
