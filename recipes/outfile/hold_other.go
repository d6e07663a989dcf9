//go:build !(darwin || dragonfly || freebsd || illumos || linux || netbsd || openbsd)

package outfile

import "os"

// hold has nothing to do where a file that is open cannot be removed.
func hold(*os.File) bool { return true }

// release closes a file that is about to be renamed.
func release(file *os.File) { file.Close() }
