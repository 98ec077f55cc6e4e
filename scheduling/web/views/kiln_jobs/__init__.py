"""Pages of kiln jobs: the list, the question, the answer, the job, its labels and its firings' lists."""
