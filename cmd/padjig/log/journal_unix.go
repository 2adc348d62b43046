//go:build unix

package log

import (
	"fmt"
	"io"
	"os"
	"syscall"
)

// isJournal reports whether a stream is the one that the system's journal reads: $JOURNAL_STREAM
// has its device and inode then (systemd.exec(5)). The variable alone says little, since whoever
// is started from a service inherits it.
func isJournal(to io.Writer, stream string) bool {
	f, is := to.(*os.File)
	if !is || stream == "" {
		return false
	}
	info, err := f.Stat()
	if err != nil {
		return false
	}
	of, is := info.Sys().(*syscall.Stat_t)
	return is && stream == fmt.Sprintf("%d:%d", of.Dev, of.Ino)
}
