package web

import (
	"padjig/cmd/padjig/web/page"
)

// notBackedUp is what every page says as long as the backups that the station takes fail, empty else. At a
// lane nothing stands in the way of the large word, and pages are there without the records too.
func (s *Site) notBackedUp(v *page.Visit, shown page.Page) string {
	if shown.Name == "lane" || s.backups == nil {
		return ""
	}
	whole, failed, err := s.backups.Newest(v.Ctx())
	switch {
	case err != nil || failed == nil || !failed.Scheduled:
		return ""
	case whole == nil:
		return v.Say("backup.never", failed.Folder, v.Moment(failed.At))
	}
	return v.Say("backup.failed", failed.Folder, v.Moment(failed.At), v.Moment(whole.At))
}
