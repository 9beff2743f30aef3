"""What the keeper wrote: files of a season folder as typed records, and every fault found."""
