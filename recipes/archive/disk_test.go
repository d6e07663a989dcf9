package archive

import (
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// A disk stands between SQLite and the files of one folder. It writes down all that
// SQLite does to them, in order, and fails where it is told to. It is put in by
// SQLite's own means, a virtual file system (sqlite.org/vfs.html) that hands
// everything on to the one of the machine; only files of a folder that a test
// watches get the methods that write down and fail.
//
// No file is really synced, watched or not: no machine dies during a test, and what
// one would lose is worked out from what was written down.
//
// The file of shared memory is not of it: it holds nothing that outlives a machine,
// and SQLite makes it anew.
type disk struct {
	mu    sync.Mutex
	done  []deed
	first int   // the deed that fails first; none if negative
	many  int   // how many fail from there on
	with  int32 // SQLite's code
	hit   int   // deeds that failed
}

// A deed is one thing done to a file.
type deed struct {
	what   string // open (of a file that is made), write, truncate, sync, delete; or said, for what a test adds
	file   string // its name in the folder
	at     int64  // of write and truncate
	data   []byte // of write
	folder bool   // of delete: it is synced
}

var (
	disks = struct {
		sync.Mutex
		watched map[string]*disk
		open    map[uintptr]opened                       // by SQLite's handle
		syncing map[uintptr]*sqlite3.Tsqlite3_io_methods // those of unwatched files, by what they were
		system  sqlite3.Tsqlite3_vfs
	}{watched: map[string]*disk{}, open: map[uintptr]opened{}, syncing: map[uintptr]*sqlite3.Tsqlite3_io_methods{}}
)

// An opened file of a watched folder.
type opened struct {
	*disk
	name  string
	plain *sqlite3.Tsqlite3_io_methods
	own   *sqlite3.Tsqlite3_io_methods // here, so that it stays in memory while the file is open
}

// watch puts a disk under a folder until the test ends.
func watch(t testing.TB, folder string) *disk {
	t.Helper()
	d := &disk{first: -1}
	disks.Lock()
	disks.watched[folder] = d
	disks.Unlock()
	t.Cleanup(func() {
		disks.Lock()
		delete(disks.watched, folder)
		disks.Unlock()
	})
	return d
}

// failAt has n deeds fail with an error code of SQLite, counted from the k-th from
// now on.
func (d *disk) failAt(k, n int, with int32) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.done, d.first, d.many, d.with, d.hit = nil, k, n, with, 0
}

// well ends all failing and tells how many deeds failed.
func (d *disk) well() (hit int) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.first = -1
	return d.hit
}

// say notes what happened outside of the disk.
func (d *disk) say(what string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.done = append(d.done, deed{what: "said", file: what})
}

// does writes a deed down, or says with which code it fails.
func (d *disk) does(k deed) int32 {
	d.mu.Lock()
	defer d.mu.Unlock()
	if n := len(d.done) - d.first; d.first >= 0 && 0 <= n && n < d.many {
		code := d.with
		if code == sqlite3.SQLITE_IOERR {
			code = failures[k.what]
		}
		if code != sqlite3.SQLITE_FULL || k.what == "write" || k.what == "open" { // a full disk syncs and deletes
			d.done = append(d.done, deed{what: "failed"})
			d.hit++
			return code
		}
	}
	d.done = append(d.done, k)
	return sqlite3.SQLITE_OK
}

// failures are SQLite's codes for what a disk cannot do.
var failures = map[string]int32{
	"open":     sqlite3.SQLITE_CANTOPEN,
	"write":    sqlite3.SQLITE_IOERR_WRITE,
	"truncate": sqlite3.SQLITE_IOERR_TRUNCATE,
	"sync":     sqlite3.SQLITE_IOERR_FSYNC,
	"delete":   sqlite3.SQLITE_IOERR_DELETE,
}

// at is what an address of SQLite's memory points to.
func at[T any](p uintptr) *T { return *(**T)(unsafe.Pointer(&p)) }

// call is the function that SQLite keeps at an address.
func call[F any](p uintptr) F { return *(*F)(unsafe.Pointer(&p)) }

// kept is a function as SQLite keeps it; *f must stay where it is.
func kept[F any](f *F) uintptr { return *(*uintptr)(unsafe.Pointer(f)) }

type (
	openFn     = func(tls *libc.TLS, vfs, name, file uintptr, flags int32, out uintptr) int32
	deleteFn   = func(tls *libc.TLS, vfs, name uintptr, folder int32) int32
	closeFn    = func(tls *libc.TLS, file uintptr) int32
	writeFn    = func(tls *libc.TLS, file, data uintptr, n int32, at int64) int32
	truncateFn = func(tls *libc.TLS, file uintptr, size int64) int32
	syncFn     = func(tls *libc.TLS, file uintptr, flags int32) int32
)

// putDisksIn registers the virtual file system as the one that SQLite takes.
func putDisksIn() int32 {
	tls := libc.NewTLS()
	plain := sqlite3.Xsqlite3_vfs_find(tls, 0)
	name, err := libc.CString("disk")
	if err != nil {
		return sqlite3.SQLITE_NOMEM
	}
	v := &disks.system
	*v = *at[sqlite3.Tsqlite3_vfs](plain)
	v.FzName, v.FpNext = name, 0
	open := call[openFn](v.FxOpen)
	remove := call[deleteFn](v.FxDelete)
	diskOpen = func(tls *libc.TLS, _, name, file uintptr, flags int32, out uintptr) int32 {
		return openOn(tls, plain, name, file, flags, out, open)
	}
	diskDelete = func(tls *libc.TLS, _, name uintptr, folder int32) int32 {
		path := libc.GoString(name)
		if d := watchedAt(path); d != nil {
			if _, err := os.Stat(path); err == nil {
				if code := d.does(deed{what: "delete", file: filepath.Base(path), folder: folder != 0}); code != sqlite3.SQLITE_OK {
					return code
				}
			}
		}
		return remove(tls, plain, name, folder)
	}
	v.FxOpen, v.FxDelete = kept(&diskOpen), kept(&diskDelete)
	return sqlite3.Xsqlite3_vfs_register(tls, uintptr(unsafe.Pointer(v)), 1)
}

// SQLite keeps only addresses of these, so that they must live as long as it.
var (
	diskOpen     openFn
	diskDelete   deleteFn
	diskClose    closeFn    = closeOn
	diskWrite    writeFn    = writeOn
	diskTruncate truncateFn = truncateOn
	diskSync     syncFn     = syncOn
)

func watchedAt(path string) *disk {
	disks.Lock()
	defer disks.Unlock()
	return disks.watched[filepath.Dir(path)]
}

func openOn(tls *libc.TLS, vfs, name, file uintptr, flags int32, out uintptr, open openFn) int32 {
	var d *disk
	var path string
	if name != 0 {
		path = libc.GoString(name)
		d = watchedAt(path)
	}
	if d == nil {
		code := open(tls, vfs, name, file, flags, out)
		if f := at[sqlite3.Tsqlite3_file](file); code == sqlite3.SQLITE_OK && f.FpMethods != 0 {
			f.FpMethods = unsynced(f.FpMethods)
		}
		return code
	}
	_, err := os.Stat(path)
	made := os.IsNotExist(err) && flags&sqlite3.SQLITE_OPEN_CREATE != 0
	if made {
		if code := d.does(deed{what: "open", file: filepath.Base(path)}); code != sqlite3.SQLITE_OK {
			at[sqlite3.Tsqlite3_file](file).FpMethods = 0 // else SQLite closes it
			return code
		}
	}
	code := open(tls, vfs, name, file, flags, out)
	f := at[sqlite3.Tsqlite3_file](file)
	if code != sqlite3.SQLITE_OK || f.FpMethods == 0 {
		return code
	}
	plain := at[sqlite3.Tsqlite3_io_methods](f.FpMethods)
	own := new(sqlite3.Tsqlite3_io_methods)
	*own = *plain
	own.FxClose, own.FxWrite, own.FxTruncate, own.FxSync = kept(&diskClose), kept(&diskWrite), kept(&diskTruncate), kept(&diskSync)
	disks.Lock()
	disks.open[file] = opened{d, filepath.Base(path), plain, own}
	disks.Unlock()
	f.FpMethods = uintptr(unsafe.Pointer(own))
	return code
}

// unsynced are methods that do all the same but sync.
func unsynced(plain uintptr) uintptr {
	disks.Lock()
	defer disks.Unlock()
	if disks.syncing[plain] == nil {
		own := *at[sqlite3.Tsqlite3_io_methods](plain)
		own.FxSync = kept(&diskSync)
		disks.syncing[plain] = &own
	}
	return uintptr(unsafe.Pointer(disks.syncing[plain]))
}

func openedAt(file uintptr) opened {
	disks.Lock()
	defer disks.Unlock()
	return disks.open[file]
}

func closeOn(tls *libc.TLS, file uintptr) int32 {
	f := openedAt(file)
	disks.Lock()
	delete(disks.open, file)
	disks.Unlock()
	at[sqlite3.Tsqlite3_file](file).FpMethods = uintptr(unsafe.Pointer(f.plain))
	return call[closeFn](f.plain.FxClose)(tls, file)
}

func writeOn(tls *libc.TLS, file, data uintptr, n int32, off int64) int32 {
	f := openedAt(file)
	k := deed{what: "write", file: f.name, at: off, data: slices.Clone(unsafe.Slice(at[byte](data), n))}
	if code := f.does(k); code != sqlite3.SQLITE_OK {
		call[writeFn](f.plain.FxWrite)(tls, file, data, n/2, off) // as much as there was room for
		return code
	}
	return call[writeFn](f.plain.FxWrite)(tls, file, data, n, off)
}

func truncateOn(tls *libc.TLS, file uintptr, size int64) int32 {
	f := openedAt(file)
	if code := f.does(deed{what: "truncate", file: f.name, at: size}); code != sqlite3.SQLITE_OK {
		return code
	}
	return call[truncateFn](f.plain.FxTruncate)(tls, file, size)
}

func syncOn(_ *libc.TLS, file uintptr, _ int32) int32 {
	f := openedAt(file)
	if f.disk == nil {
		return sqlite3.SQLITE_OK
	}
	return f.does(deed{what: "sync", file: f.name})
}
