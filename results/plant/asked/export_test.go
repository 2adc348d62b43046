package asked

// ScanQuestion is what is asked at each scan.
const ScanQuestion = question
