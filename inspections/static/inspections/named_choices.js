/* The widget of a searching choice shows what is chosen in a box of its own, which it leaves without a name. */
django.jQuery(function ($) {
  $(".admin-autocomplete").each(function () {
    var name = $("label[for='" + this.id + "']").text().replace(/:\s*$/, "");
    $(this).next(".select2").find(".select2-selection__rendered").attr("aria-label", name);
  });
});
