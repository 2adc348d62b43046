//go:build unix

package plant

import "io/fs"

// readByOthers reports whether more than a file's owner may do anything with it.
func readByOthers(mode fs.FileMode) bool { return mode.Perm()&^ownerAlone != 0 }
