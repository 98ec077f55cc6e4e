"""Addresses of kiln jobs."""

from django.urls import path

from scheduling.web.views.kiln_jobs import answers, asking, jobs, labels, lists, open_space

urlpatterns = [
    path("kiln-jobs", lists.kiln_jobs, name="kiln-jobs"),
    path("kiln-jobs/ask", asking.ask, name="kiln-jobs-ask"),
    path("kiln-jobs/open-space", open_space.open_space, name="kiln-jobs-open-space"),
    path("kiln-jobs/<uuid:uid>", jobs.kiln_job, name="kiln-jobs-job"),
    path("kiln-jobs/<uuid:uid>/change", asking.change_asked, name="kiln-jobs-change"),
    path("kiln-jobs/<uuid:uid>/seek", answers.seek, name="kiln-jobs-seek"),
    path("kiln-jobs/<uuid:uid>/come", jobs.pieces_come, name="kiln-jobs-come"),
    path("kiln-jobs/<uuid:uid>/call-off", jobs.call_off, name="kiln-jobs-call-off"),
    path("kiln-jobs/<uuid:uid>/labels", labels.job_labels, name="kiln-jobs-labels"),
    path("kiln-answers/<uuid:uid>", answers.answer, name="kiln-jobs-answer"),
    path("kiln-answers/<uuid:uid>/what-if", answers.what_if, name="kiln-jobs-what-if"),
    path("kiln-answers/<uuid:uid>/due-later", answers.due_later, name="kiln-jobs-due-later"),
    path("kiln-answers/<uuid:uid>/stop", answers.stop_search, name="kiln-jobs-stop"),
    path("kiln-answers/<uuid:uid>/book", answers.book_answer, name="kiln-jobs-book"),
    path("job-steps/<uuid:uid>/done", jobs.tick_step, name="tick-job-step"),
    path("firings/<uuid:uid>/add-pieces", open_space.add, name="kiln-jobs-add"),
    path("firings/<uuid:uid>/open-space", open_space.offer_space, name="offer-space"),
    path("firings/<uuid:uid>/open-to-others", open_space.open_class, name="open-class-firing"),
    path("sessions/<uuid:uid>/labels", labels.class_labels, name="class-labels"),
]
