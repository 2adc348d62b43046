package store

import "golang.org/x/sys/windows"

// freeBytes is what this user may still write in dir.
func freeBytes(dir string) (free uint64, err error) {
	name, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return 0, err
	}
	err = windows.GetDiskFreeSpaceEx(name, &free, nil, nil)
	return free, err
}
