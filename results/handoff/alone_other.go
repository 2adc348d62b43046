//go:build !linux

package handoff

import "sync"

var receivers sync.Map

// Alone takes a receiver into this program's hands. Other programs do not see it on this
// system: let one station at a time hand on from a store.
func (s *Records) Alone(receiver string) (release func(), taken bool, err error) {
	of := [2]string{s.db.LockPath(), receiver}
	if _, taken := receivers.LoadOrStore(of, true); taken {
		return nil, true, nil
	}
	return func() { receivers.Delete(of) }, false, nil
}
