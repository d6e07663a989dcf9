package main

import "runtime/debug"

// version of the program, kept with every record it writes.
const version = "0.1"

// build is the version with the commit it was made of, where the one who built it
// had the commits: 0.1 (commit 1f2e3d4c5b6a of 2026-03-31, go1.26.8).
func build() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return version
	}
	return versionOf(info)
}

func versionOf(info *debug.BuildInfo) string {
	var commit, day, changed string
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			commit = s.Value
		case s.Key == "vcs.time" && len(s.Value) >= len("2026-03-31"):
			day = " of " + s.Value[:len("2026-03-31")]
		case s.Key == "vcs.modified" && s.Value == "true":
			changed = " and changes"
		}
	}
	if commit == "" {
		return version + " (" + info.GoVersion + ")"
	}
	return version + " (commit " + commit[:min(12, len(commit))] + day + changed + ", " + info.GoVersion + ")"
}
